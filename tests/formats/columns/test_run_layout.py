"""Several files of one run, read together by a layout for each."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from correlate.errors import ChannelError, FormatError
from correlate.formats.columns import Column, ColumnLayout, RunLayout, read_run

if TYPE_CHECKING:
    from pathlib import Path


def layout(name: str, channel: str) -> ColumnLayout:
    """Return a layout for the file of this name."""
    return ColumnLayout(
        name=name,
        files=(f"{name}.out",),
        columns=(Column(name="t", unit="ms"), Column(name=channel, unit="kN")),
        time="t",
    )


@pytest.fixture
def run(tmp_path: Path) -> Path:
    """Write two files of a run and one that nobody asks for."""
    for name in ("nodes", "forces", "other"):
        (tmp_path / f"{name}.out").write_text("0.0 1.0\n0.1 2.0\n0.2 3.0\n", encoding="utf-8")
    return tmp_path


def test_the_channels_of_all_files_make_one_recording(run: Path) -> None:
    """In the order of the layouts; other files are not read."""
    both = RunLayout((layout("nodes", "a"), layout("forces", "b")))
    recording = read_run(run, both)
    assert recording.channel_names == ("a", "b")
    assert recording.path == run


def test_a_layout_without_its_file_is_refused(run: Path) -> None:
    """The sentence names folder and layout; a folder that is not there has no file either."""
    missing = RunLayout((layout("nodes", "a"), layout("energy", "b")))
    with pytest.raises(FormatError, match="the layout 'energy' applies to no file in this folder"):
        read_run(run, missing)
    with pytest.raises(FormatError, match="the layout 'nodes' applies to no file in this folder"):
        read_run(run / "absent", missing)


def test_a_channel_in_two_files_is_refused(run: Path) -> None:
    """Which of them is meant is not guessed."""
    with pytest.raises(ChannelError, match="two channels are called 'a'"):
        read_run(run, RunLayout((layout("nodes", "a"), layout("forces", "a"))))


def test_what_is_wrong_with_one_file_is_known_of_the_run(run: Path) -> None:
    """A column without values is set aside, and a file that is cut off makes the run unfinished."""
    (run / "nodes.out").write_text("0.0 - 1.0\n0.1 - 2.0\n0.2 - 3.0\n", encoding="utf-8")
    (run / "forces.out").write_text("0.0 1.0\n0.1 2.0\n0.2", encoding="utf-8")
    nodes = replace(layout("nodes", "a"), missing=("-",))
    nodes = replace(nodes, columns=(*nodes.columns, Column(name="c", unit="mm")))
    recording = read_run(run, RunLayout((nodes, layout("forces", "b"))))
    assert recording.channel_names == ("c", "b")
    assert [one.name for one in recording.set_aside] == ["a"]
    assert recording.unfinished is not None
