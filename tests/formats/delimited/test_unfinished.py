"""Delimited text that ends inside a row: refused, or read up to its last whole row where that is asked."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate.errors import UnfinishedError
from correlate.formats import delimited
from tests.formats.examples import written

if TYPE_CHECKING:
    from pathlib import Path

TEXT = "time [ms],force [kN],travel [mm]\n" + "".join(f"{at}.5,{at}.2500,{at}.1250\n" for at in range(1, 8))
LAST_ROW = len("7.5,7.2500,7.1250\n")


@pytest.mark.parametrize("cut", range(2, LAST_ROW))
def test_row_that_is_cut_off_is_left_out(tmp_path: Path, cut: int) -> None:
    """Wherever in its last row the file ends; the rows above it are read as they are."""
    path = written(tmp_path, TEXT[:-cut], "run.csv")
    with pytest.raises(UnfinishedError, match=r"run\.csv, line 8"):
        delimited.read(path)
    recording = delimited.read_so_far(path)
    assert recording["force"].samples.tolist() == [at + 0.25 for at in range(1, 7)]
    assert recording.set_aside == ()
    assert recording.unfinished is not None


@pytest.mark.parametrize("cut", [0, 1, LAST_ROW])
def test_whole_rows_are_finished(tmp_path: Path, cut: int) -> None:
    """With or without a line break behind the last."""
    recording = delimited.read_so_far(written(tmp_path, TEXT[: len(TEXT) - cut], "run.csv"))
    assert recording.unfinished is None
    assert len(recording["travel"]) == (6 if cut == LAST_ROW else 7)


def test_word_in_the_last_row_sets_the_column_aside(tmp_path: Path) -> None:
    """It is no number that has just begun."""
    recording = delimited.read(written(tmp_path, TEXT[:-7] + "OL", "run.csv"))
    assert [one.name for one in recording.set_aside] == ["travel"]
    assert len(recording["force"]) == 7
