"""Results of runs that are not finished: named so, refused, and read as far as they are written."""

from __future__ import annotations

import pickle
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from correlate.errors import FormatError, SettingsError, UnfinishedError
from correlate.formats import read
from correlate.formats.columns import Column, NormalEnd, layout_for, read_columns, read_columns_so_far
from correlate.formats.columns.layout_file import load_layout
from tests.formats.columns.examples import NODES, nodes, two_columns
from tests.formats.examples import written

if TYPE_CHECKING:
    from pathlib import Path

ROWS = "0.0 1.25\n0.1 2.25\n0.2 3.25\n0.3 4.25\n"
END = NormalEnd(text="normal end * s")


def test_without_the_mark_of_a_normal_end_a_result_is_unfinished(tmp_path: Path) -> None:
    """It is refused by the one reader, and handed out with the reason by the other."""
    path = written(tmp_path, ROWS, "run.out")
    layout = two_columns(normal_end=END)
    with pytest.raises(UnfinishedError, match=r"run\.out: the run is unfinished: 'normal end \* s'"):
        read_columns(path, layout)
    recording = read_columns_so_far(path, layout)
    assert recording["force"].samples.tolist() == [1.25, 2.25, 3.25, 4.25]
    assert recording.unfinished is not None
    again = pickle.loads(pickle.dumps(recording))  # noqa: S301 - our own
    assert str(again.unfinished) == str(recording.unfinished)


def test_the_mark_may_stand_behind_the_rows_or_in_a_file_beside(tmp_path: Path) -> None:
    """In the results it is no row; in a file beside them the name follows the results."""
    path = written(tmp_path, ROWS + "\n  normal  end after 12 s\n", "run.out")
    assert read_columns(path, two_columns(normal_end=END)).unfinished is None
    beside = two_columns(normal_end=NormalEnd(text="all done", file="{stem}.log"))
    path = written(tmp_path, ROWS, "push.out")
    with pytest.raises(UnfinishedError, match=r"not in the last lines of push\.log"):
        read_columns(path, beside)
    written(tmp_path, "step 1\nall done\n", "push.log")
    assert read_columns(path, beside).unfinished is None


@pytest.mark.parametrize("cut", range(1, 9))
def test_a_table_cut_anywhere_in_its_last_row_keeps_the_whole_rows(tmp_path: Path, cut: int) -> None:
    """Whatever is left of the last row, it is never read as another number."""
    path = written(tmp_path, ROWS[:-cut], "run.out")
    recording = read_columns_so_far(path, two_columns())
    whole = [1.25, 2.25, 3.25, 4.25] if cut == 1 else [1.25, 2.25, 3.25]
    assert recording["force"].samples.tolist() == whole
    assert (recording.unfinished is None) == (cut == 1)


@pytest.mark.parametrize("lines", [0, 1, 2])
def test_the_last_block_is_left_out_while_it_lacks_rows(tmp_path: Path, lines: int) -> None:
    """Earlier blocks stay; a block that lacks rows in the middle is a mistake all the same."""
    kept = NODES.splitlines(keepends=True)[: -2 - lines]
    path = written(tmp_path, "".join(kept), "run.out")
    recording = read_columns_so_far(path, nodes())
    is_whole = lines == 0
    assert len(recording["node 12 x"]) == (3 if is_whole else 2)
    assert (recording.unfinished is None) == is_whole
    middle = NODES.replace("    7 3.50000E+00 4.50000E+00\n", "")
    with pytest.raises(FormatError, match="lacks 'node 7'"):
        read_columns_so_far(written(tmp_path, middle, "middle.out"), nodes())


def test_skipped_lines_and_missing_marks(tmp_path: Path) -> None:
    """Repeated headers are no rows; a missing value is bridged and counted, at the ends it is left out."""
    text = "t;force\n0;-\n1;2\nt;force\n2;n/a\n3;4\n4;5\n5;6\n6;-\n"
    layout = two_columns(separator=";", skip_like=("t;force",), missing=("-", "n/a"))
    force = read_columns(written(tmp_path, text, "run.txt"), layout)["force"]
    assert force.samples.tolist() == [2.0, 3.0, 4.0, 5.0, 6.0]
    assert (force.start_s, force.step_s) == (1.0, 1.0)
    assert force.history[0].settings["missing_values"] == 3
    few = "t;force;travel\n0;-;1\n1;2;2\n2;-;3\n"
    columns = (*two_columns().columns, Column(name="travel", unit="mm"))
    recording = read_columns(
        written(tmp_path, few, "few.txt"), replace(layout, columns=columns, skip_like=("t;force*",))
    )
    assert recording.channel_names == ("travel",)
    assert [str(one).partition(": ")[0] for one in recording.set_aside] == ["channel 'force' is set aside"]
    with pytest.raises(FormatError, match="'-' in column 't' is not a number"):
        read_columns(written(tmp_path, text.replace("3;4", "-;4"), "run.txt"), layout)


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"skip_like": ("1.0 *",)}, "'1.0 *' could match a row of numbers"),
        ({"separator": "x"}, "'x' cannot separate columns"),
        ({"separator": ",", "decimal": ","}, "',' cannot separate columns with the decimal mark ','"),
        ({"normal_end": NormalEnd(text="done", file="../run.log")}, "is not the name of a file beside"),
    ],
)
def test_what_no_file_could_be_read_by_is_refused(changed: dict[str, object], message: str) -> None:
    """When the layout is made."""
    with pytest.raises(SettingsError) as caught:
        two_columns(**changed)
    assert message in str(caught.value)


LAYOUT = """
files = ["*.out"]
units = "mm-ms-kg"
time = "t"
normal_end = {text = "all done"}
columns = [
  {name = "t", quantity = "time"},
  {name = "force", quantity = "force"},
]
"""


def test_a_layout_file_gives_units_by_quantity(tmp_path: Path) -> None:
    """Its name is that of the file; text files of the named kind are read by it, others as before."""
    layout = load_layout(written(tmp_path, LAYOUT, "solver.toml"))
    assert (layout.name, layout.time_unit, layout.channels[0].unit) == ("solver", "ms", "kN")
    path = written(tmp_path, ROWS + "all done\n", "run.out")
    assert read(path, [layout]).format == "columns"
    table = written(tmp_path, "time [s],force [N]\n0,1\n1,2\n2,3\n", "run.csv")
    assert read(table, [layout]).format == "delimited text"


@pytest.mark.parametrize(
    ("old", "new", "message"),
    [
        ('units = "mm-ms-kg"\n', "", "column 't' has a quantity, but the layout has no 'units'"),
        ('quantity = "force"', 'quantity = "push"', "there is no quantity 'push'"),
        ('quantity = "force"', 'quantity = "force", unit = "N"', "has both 'unit' and 'quantity'"),
        ("files", "file", "line 2, file: there is no such key; did you mean 'files'?"),
    ],
)
def test_mistakes_in_a_layout_file(tmp_path: Path, old: str, new: str, message: str) -> None:
    """With line and key."""
    with pytest.raises(FormatError) as caught:
        load_layout(written(tmp_path, LAYOUT.replace(old, new, 1), "solver.toml"))
    assert message in str(caught.value)


def test_two_layouts_for_one_file_are_refused(tmp_path: Path) -> None:
    """Rather than one of them taken."""
    with pytest.raises(SettingsError, match="the layouts 'plain' and 'plain' both apply to this file"):
        layout_for(tmp_path / "run.out", [two_columns(), two_columns(files=("*.out",))])
