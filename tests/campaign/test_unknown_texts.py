"""Layouts proposed for text files that no format reads."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate.campaign.unknown_texts import UnknownTexts

if TYPE_CHECKING:
    from pathlib import Path


def write(path: Path, names: str, rows: int = 40) -> Path:
    """Write a table without units."""
    lines = [names, *(f"{0.5 * n:.1f}\t{n * n}\t{0.1 * n:.2f}" for n in range(rows))]
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
    return path


def test_units_follow_from_the_unit_system(tmp_path: Path) -> None:
    """Force and displacement in mm, ms and kg, as the times say, or in what was told."""
    file = write(tmp_path / "a.tab", "time\tprobe force x\tchest disp x")
    recording = UnknownTexts().read(file)
    assert recording is not None
    assert [signal.unit for signal in recording.signals] == ["kN", "mm"]
    told = UnknownTexts("m-s-kg").read(file)
    assert told is not None
    assert [signal.unit for signal in told.signals] == ["N", "m"]


def test_a_column_that_says_nothing_is_a_plain_number(tmp_path: Path) -> None:
    """It can still be paired by its curve; nothing is left out unseen."""
    recording = UnknownTexts().read(write(tmp_path / "a.tab", "time\tnode 12\tchest disp x"))
    assert recording is not None
    assert [signal.unit for signal in recording.signals] == ["1", "mm"]


def test_files_of_one_header_share_a_layout_and_others_do_not(tmp_path: Path) -> None:
    """As many columns under other names would be read wrongly and without complaint."""
    texts = UnknownTexts()
    for name, header in (
        ("one", "time\thead ax\tneck fx"),
        ("two", "time\thead ax\tneck fx"),
        ("three", "time\tneck fx\thead ax"),
    ):
        assert texts.read(write(tmp_path / f"{name}.tab", header)) is not None
    assert list(texts.tables) == ["one", "three"]
    last = texts.read(tmp_path / "three.tab")
    assert last is not None
    assert last.channel_names == ("neck fx", "head ax")


def test_a_text_without_numbers_is_not_read(tmp_path: Path) -> None:
    """None, and no layout is kept."""
    texts = UnknownTexts()
    (tmp_path / "a.txt").write_text("one line\nand another\n", encoding="utf-8")
    assert texts.read(tmp_path / "a.txt") is None
    assert texts.tables == {}


@pytest.mark.parametrize("order", [("cut", "whole"), ("whole", "cut")])
def test_a_run_that_was_cut_off_is_known_by_the_others(tmp_path: Path, order: tuple[str, ...]) -> None:
    """The mark of the normal end is learnt from finished runs, in whatever order the files are read."""
    files = [write(tmp_path / f"{name}.tab", "time\thead ax\tneck fx") for name in ("cut", "whole")]
    with files[1].open("a", encoding="utf-8") as stream:
        stream.write("cpu 12.5 s\nnormal end of run\n")
    texts = UnknownTexts()
    for name in order:
        texts.read(tmp_path / f"{name}.tab")
    again = UnknownTexts("mm-ms-kg", texts.ends)
    cut, whole = (again.read(file) for file in files)
    assert cut is not None
    assert cut.unfinished is not None
    assert whole is not None
    assert whole.unfinished is None
    (table,) = again.tables.values()
    assert table["normal_end"] == {"text": "normal end of run"}
    assert (
        "normal end of a run: 'normal end of run', because it stands behind the rows"
        in again.questions["cut"]
    )
