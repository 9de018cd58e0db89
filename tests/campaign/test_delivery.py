"""Results on their way through a scheduler arrive as they were sent, or are refused."""

from __future__ import annotations

from dataclasses import replace

import pytest

from correlate.campaign.delivery import Delivery, Sealed
from correlate.errors import SettingsError

SENT = Delivery([("push", "B1")], [], ["rows"])


def test_what_was_sent_arrives() -> None:
    """Opened for its own task, it is what was sealed."""
    assert Sealed.of(SENT, "blocks-1").opened("blocks-1", where="here") == SENT


@pytest.mark.parametrize("how", ["content", "task"])
def test_what_was_changed_or_swapped_is_refused_and_not_read(how: str) -> None:
    """One wrong byte, or the result of another task, is one sentence with place and remedy."""
    sealed = Sealed.of(SENT, "blocks-1")
    if how == "content":
        sealed = replace(sealed, content=sealed.content[:-1] + b"?")
    with pytest.raises(SettingsError, match=r"^here: the result of a worker is damaged, .*; score again"):
        sealed.opened("blocks-1" if how == "content" else "blocks-2", where="here")
