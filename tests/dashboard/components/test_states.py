"""What stands on a page before there is anything to show."""

from __future__ import annotations

from typing import get_args

import pytest

from dashboard.components.states import Kind, skeleton
from tests.dashboard.reading import parts, text


@pytest.mark.parametrize("kind", get_args(Kind))
def test_a_skeleton_shows_a_shape_and_tells_what_is_done(kind: Kind) -> None:
    """The words are for those who do not see the shape, which has none."""
    shown = skeleton(kind, "Reading the runs")
    assert text(shown) == "Reading the runs"
    assert getattr(shown, "role") == "status"  # noqa: B009 - a property that dash has no type for
    assert sum("shape " in f"{getattr(one, 'className', '')} " for one in parts(shown)) > 3
