"""Temporary files and folders: what killed programs left is removed, what is in use or not ours stays."""

from __future__ import annotations

import os
from typing import TYPE_CHECKING

import pytest

from correlate.files import whole_file, whole_folder, write_text
from correlate.temporary import temporary_file, temporary_folder

if TYPE_CHECKING:
    from pathlib import Path

pytestmark = pytest.mark.skipif(os.name != "posix", reason="folders can be locked on POSIX systems only")

LEFT = ".run.csv.0123456789ab.part"


def names(folder: Path) -> list[str]:
    """Return what lies in a folder."""
    return sorted(path.name for path in folder.iterdir())


def test_what_a_killed_program_left_is_removed(tmp_path: Path) -> None:
    """A file and a folder that nobody locks, whatever they were to become."""
    (tmp_path / LEFT).write_text("half of it", encoding="utf-8")
    (tmp_path / ".test.ba9876543210.part" / "Channel").mkdir(parents=True)
    (tmp_path / ".test.ba9876543210.part" / "Channel" / "x.001").write_text("half", encoding="utf-8")
    write_text(tmp_path / "another.csv", "whole")
    assert names(tmp_path) == ["another.csv"]


def test_what_a_program_works_on_stays(tmp_path: Path) -> None:
    """Both the file and the folder of somebody who is at work are complete afterwards."""
    with whole_file(tmp_path / "run.csv") as stream, whole_folder(tmp_path / "test") as folder:
        stream.write(b"first ")
        write_text(folder / "x.001", "samples")
        write_text(tmp_path / "another.csv", "whole")
        with whole_folder(tmp_path / "spare"):
            pass
        stream.write(b"second")
    assert (tmp_path / "run.csv").read_bytes() == b"first second"
    assert (tmp_path / "test" / "x.001").read_text(encoding="utf-8") == "samples"
    assert names(tmp_path) == ["another.csv", "run.csv", "spare", "test"]


@pytest.mark.parametrize("name", [".run.csv.part", "run.csv.0123456789ab.part", ".run.csv.0123456789AB.part"])
def test_what_is_not_ours_stays(tmp_path: Path, name: str) -> None:
    """Other names, and a link of such a name with what it points to."""
    (tmp_path / name).write_text("somebody's", encoding="utf-8")
    (tmp_path / "kept").mkdir()
    (tmp_path / LEFT).symlink_to(tmp_path / "kept")
    write_text(tmp_path / "another.csv", "whole")
    assert names(tmp_path) == sorted([LEFT, "another.csv", "kept", name])


def test_they_are_gone_after_a_mistake(tmp_path: Path) -> None:
    """Neither stays when the block fails."""
    with pytest.raises(ZeroDivisionError), temporary_folder(tmp_path / "a"), temporary_file(tmp_path / "b"):
        _ = 1 / 0
    assert names(tmp_path) == []
