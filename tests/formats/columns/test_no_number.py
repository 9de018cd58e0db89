"""Cells in which a program wrote that it had no number."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate.errors import FormatError, NoNumberError
from correlate.formats.columns import Column, ColumnLayout, RepeatedBlock, read_columns

if TYPE_CHECKING:
    from pathlib import Path

COLUMNS = (Column(name="t", unit="s"), Column(name="force", unit="kN"), Column(name="energy", unit="J"))


def layout(*, missing: tuple[str, ...] = ()) -> ColumnLayout:
    """Return the layout of three columns."""
    return ColumnLayout(name="plain", columns=COLUMNS, time="t", missing=missing)


@pytest.mark.parametrize("cell", ["nan", "-inf", "****", "1.#IND", "1.5D+999"])
def test_its_channel_is_set_aside_and_the_others_are_read(tmp_path: Path, cell: str) -> None:
    """The first such cell is named by line and column."""
    path = tmp_path / "run.txt"
    path.write_text(f"0 1 5\n1 {cell} 6\n2 nan 7\n3 2 8\n", encoding="utf-8")
    found = read_columns(path, layout())
    assert [(one.channel, one.samples.tolist()) for one in found] == [("energy", [5, 6, 7, 8])]
    with pytest.raises(NoNumberError) as fault:
        found.channel("force")
    assert str(fault.value).startswith(f"{path}, line 2: '{cell}' in column 'force' is not a")


def test_in_blocks_only_the_key_in_whose_row_it_stands(tmp_path: Path) -> None:
    """Node 2 in x alone; its y and all of node 1 are there."""
    columns = (
        Column(name="node"),
        Column(name="x", unit="mm"),
        Column(name="y", unit="mm"),
    )
    block = RepeatedBlock(start="time {time}", time_unit="s", key="node")
    nodes = ColumnLayout(name="nodes", columns=columns, block=block)
    text = "time 0\n1 1 1\n2 2 2\ntime 1\n2 inf 2\n1 1 1\n"
    path = tmp_path / "run.txt"
    path.write_text(text, encoding="utf-8")
    found = read_columns(path, nodes)
    assert found.channel_names == ("node 1 x", "node 1 y", "node 2 y")
    assert [(one.name, one.error.where) for one in found.set_aside] == [("node 2 x", f"{path}, line 5")]


def test_a_mark_that_the_layout_lists_is_a_missing_value(tmp_path: Path) -> None:
    """It is bridged as before."""
    path = tmp_path / "run.txt"
    path.write_text("0 1 5\n1 **** 6\n2 3 7\n3 4 8\n4 5 9\n", encoding="utf-8")
    assert read_columns(path, layout(missing=("****",)))["force"].samples.tolist() == [1, 2, 3, 4, 5]


def test_a_file_without_any_channel_left_and_a_time_are_refused(tmp_path: Path) -> None:
    """The first fault is named, as one without a number."""
    path = tmp_path / "run.txt"
    path.write_text("0 nan inf\n1 1 1\n", encoding="utf-8")
    with pytest.raises(NoNumberError, match="none of 2 channels can be used; the first, 'force'"):
        read_columns(path, layout())
    path.write_text("0 1 1\nnan 1 1\n", encoding="utf-8")
    with pytest.raises(NoNumberError, match="line 2: 'nan' in column 't' is not a finite number"):
        read_columns(path, layout())
    path.write_text("0 1 1\n1 one 1\n", encoding="utf-8")
    with pytest.raises(FormatError, match="'one' in column 'force'") as fault:
        read_columns(path, layout())
    assert not isinstance(fault.value, NoNumberError)
