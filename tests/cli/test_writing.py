"""Files that commands write: completely or not at all."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate.cli.writing import write_bytes
from correlate.errors import FormatError

if TYPE_CHECKING:
    from pathlib import Path


def test_a_file_is_written_whole_or_not_at_all(tmp_path: Path) -> None:
    """It replaces what was there, leaves nothing beside it, and names a folder that is absent."""
    target = tmp_path / "a.pdf"
    target.write_bytes(b"old")
    write_bytes(target, b"new")
    assert target.read_bytes() == b"new"
    assert [one.name for one in tmp_path.iterdir()] == ["a.pdf"]
    with pytest.raises(FormatError, match=r"absent/a\.pdf: cannot be written"):
        write_bytes(tmp_path / "absent" / "a.pdf", b"new")
