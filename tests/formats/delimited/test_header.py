"""Headers of delimited text: separators, quotes, names, units, the time column."""

from __future__ import annotations

import re

import pytest

from correlate.errors import CorrelateError, FormatError, UnitError
from correlate.formats.delimited.header import (
    DelimitedColumn,
    found_separator,
    header_columns,
    name_and_unit,
    split_cells,
    time_column,
)

WHERE = "run.csv, line 1"


@pytest.mark.parametrize(
    ("line", "separator"),
    [
        ("time [ms],force [kN]", ","),
        ("time [ms];force, left [kN]", ";"),
        ("time [ms]\tforce; left, up [kN]", "\t"),
        ('"time [ms]","force; left [kN]"', ","),
        ('"a ""quoted"" name; [g]",time [s]', ","),
    ],
)
def test_separator_is_found_outside_quotes(line: str, separator: str) -> None:
    """Tab before semicolon before comma, because names hold commas more often than tabs."""
    assert found_separator(line, where=WHERE) == separator


@pytest.mark.parametrize("line", ["0,1", "0.0;1.5", "0,0;1,5", "1e-3 2", "-1\t+2", "7"])
def test_numbers_are_no_header(line: str) -> None:
    """The sentence says what to write."""
    remedy = r"write a first line such as 'time \[ms\], force \[kN\]'$"
    expected = r"^run\.csv, line 1: there is no header, only numbers; " + remedy
    with pytest.raises(FormatError, match=expected):
        found_separator(line, where=WHERE)


def test_line_without_separator_is_no_header() -> None:
    """A title, or a single column."""
    with pytest.raises(
        FormatError, match=r"line 1: 'Export of run 3' is not a header of several columns; write"
    ):
        found_separator("Export of run 3", where=WHERE)


def test_cells_lose_blanks_and_quotes() -> None:
    """Quoted cells may hold the separator."""
    assert split_cells(' time [s] , "a, b [g]","c ""d"" [g]"', ",", where=WHERE) == [
        "time [s]",
        "a, b [g]",
        'c "d" [g]',
    ]


def test_open_quotes_are_refused() -> None:
    """A quote that never closes."""
    with pytest.raises(FormatError, match=r"line 1: the quotes are wrong \(.+\); correct the line"):
        split_cells('time [s],"a [g]', ",", where=WHERE)


@pytest.mark.parametrize(
    ("cell", "parts"),
    [
        ("sternum deflection [mm]", ("sternum deflection", "mm")),
        ("force[kN]", ("force", "kN")),
        ("force [left] [kN]", ("force [left]", "kN")),
        ("ax [m/(s*s)]", ("ax", "m/(s*s)")),
        ("force (kN)", ("force", "kN")),
        ("force (left)", ("force (left)", None)),
        ("force", ("force", None)),
        ("[mm]", ("", "mm")),
        ("force [ ]", ("force", "")),
        ("speed / km/h", ("speed", "km/h")),
        ("t/ms", ("t", "ms")),
        ("left/right", ("left/right", None)),
        ("force, kN", ("force", "kN")),
        ("force, left, kN", ("force, left", "kN")),
        ("force, left", ("force, left", None)),
        ("left/right [kN]", ("left/right", "kN")),
        ("force (L)", ("force (L)", None)),
        ("force (1)", ("force (1)", None)),
        ("current [A]", ("current", "A")),
        ("m/s", ("m/s", None)),
        ("t/s", ("t", "s")),
    ],
)
def test_unit_stands_in_the_last_brackets(cell: str, parts: tuple[str, str | None]) -> None:
    """Square brackets always hold a unit; round ones, and what follows a slash or comma, only a known one."""
    assert name_and_unit(cell) == parts


@pytest.mark.parametrize(
    ("cells", "error", "sentence"),
    [
        (
            ["time [s]", "force"],
            FormatError,
            r"line 1, column 2 \('force'\): the column has no unit; .*'force \[mm\]'",
        ),
        (["time [s]", "[mm]"], FormatError, "line 1, column 2: the column has no name; name it, or remove"),
        (["time [s]", ""], FormatError, "line 1, column 2: the column has no name"),
        (
            ["time [s]", "a [furlong]"],
            UnitError,
            r"line 1, column 2 \('a'\): the unit 'furlong' is not known; write one such as",
        ),
        (["time [s]", "a []"], UnitError, r"line 1, column 2 \('a'\): the unit is empty"),
    ],
)
def test_bad_columns_are_noted(cells: list[str], error: type[CorrelateError], sentence: str) -> None:
    """File, line and column are named; the column of the times is as ever."""
    time, column = header_columns(cells, None, where=WHERE)
    assert time == DelimitedColumn("time", "s")
    assert isinstance(column.fault, error)
    assert re.search(sentence, str(column.fault))


def test_columns_of_one_name_are_told_apart() -> None:
    """The later one is named after its number."""
    columns = header_columns(["time [s]", "a [g]", "a [mm]", "a #2 [g]"], None, where=WHERE)
    assert [column.name for column in columns] == ["time", "a", "a #3", "a #2"]


@pytest.mark.parametrize("name", ["time", "Time", "T", "zeit", "Zeit", "TEMPS"])
@pytest.mark.parametrize("unit", ["s", "ms", "µs", "us"])
def test_time_column_is_found_by_name_and_unit(name: str, unit: str) -> None:
    """In any place and any capitals."""
    columns = (
        DelimitedColumn("force", "kN"),
        DelimitedColumn(name, unit),
        DelimitedColumn("time of contact", "ms"),
    )
    assert time_column(columns, where=WHERE) == 1


@pytest.mark.parametrize(
    ("columns", "sentence"),
    [
        ([("force", "kN"), ("moment", "N·m")], r"there is no time column; name one column 'time \[s\]' or"),
        (
            [("time", "kN"), ("moment", "N·m")],
            "the unit of 'time' is 'kN', which is not a unit of time; name one column",
        ),
        ([("time", "s"), ("T", "ms"), ("a", "g")], "'time' and 'T' both name the time; rename one of them"),
        ([("time", "s")], "there is a time column but no channel; write a header such as"),
    ],
)
def test_missing_or_doubtful_time_column_is_refused(columns: list[tuple[str, str]], sentence: str) -> None:
    """Nothing is guessed about the time."""
    with pytest.raises(FormatError, match=rf"^run\.csv, line 1: {sentence}"):
        time_column(tuple(DelimitedColumn(*column) for column in columns), where=WHERE)
