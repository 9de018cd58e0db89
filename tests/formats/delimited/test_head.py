"""The start of delimited text: comments, unit row, and what is not text at all."""

from __future__ import annotations

import pytest

from correlate.errors import CorrelateError, FormatError, UnitError
from correlate.formats.delimited.header import DelimitedColumn, parsed_head
from correlate.formats.number_text import NumberLayout


def test_comments_header_and_place_of_the_first_row() -> None:
    """Everything in front of the numbers, counted by hand."""
    text = "\ufeff# Title: drop 3\n#plate\n# note : a: b\n\n#  plate two \n"
    text += "time [ms];force [kN]\n# Title: late\n0,5;1\n"
    head = parsed_head(text.encode(), file="run.csv")
    assert head.details == {"Title": "drop 3", "comment": "plate\nplate two", "note": "a: b"}
    assert head.columns == (DelimitedColumn("time", "ms"), DelimitedColumn("force", "kN"))
    assert head.layout == NumberLayout(("time", "force"), ";", ",", "#")
    assert (head.time, head.lines) == (0, 6)
    assert text.encode()[head.size :] == b"# Title: late\n0,5;1\n"


@pytest.mark.parametrize("units", ["ms;kN", "[ms];[kN]", " (ms) ; (kN) ", '"ms";"kN"'])
def test_units_may_stand_in_a_row_of_their_own(units: str) -> None:
    """With or without brackets."""
    head = parsed_head(f"time;force\n{units}\n0;1\n".encode(), file="run.csv")
    assert head.columns == (DelimitedColumn("time", "ms"), DelimitedColumn("force", "kN"))
    assert head.lines == 2


def test_row_of_units_may_hold_an_unknown_or_no_unit() -> None:
    """These columns are noted; a row with numbers is no row of units."""
    head = parsed_head(b"time;force;state;\nms;furlong;;\n0;1;ok;\n", file="run.csv")
    faults = [column.fault for column in head.columns]
    assert faults[0] is None
    assert isinstance(faults[1], UnitError)
    assert "line 1, column 2 ('force'): the unit 'furlong' is not known" in str(faults[1])
    assert "line 1, column 3 ('state'): the unit is empty" in str(faults[2])
    assert len(faults) == 3
    with pytest.raises(FormatError, match="line 1: the columns have no units"):
        parsed_head(b"time;force;state\n0;1;s\n", file="run.csv")


def test_row_of_units_counts_where_the_time_has_none() -> None:
    """What stands in brackets in the names is part of them then."""
    head = parsed_head(b"time;force (N);force (left)\nms;kN;kN\n0;1;2\n", file="run.csv")
    assert [(column.name, column.unit) for column in head.columns[1:]] == [
        ("force (N)", "kN"),
        ("force (left)", "kN"),
    ]


@pytest.mark.parametrize("header", ["time / ms;force / kN", "time, ms;force, kN", "Time (ms);force/kN"])
def test_units_may_stand_behind_a_slash_or_comma(header: str) -> None:
    """As quantity and unit are written in tables (ISO 80000-1, from memory)."""
    head = parsed_head(f"{header}\n0;1\n".encode(), file="run.csv")
    assert [(column.name.lower(), column.unit) for column in head.columns] == [
        ("time", "ms"),
        ("force", "kN"),
    ]


@pytest.mark.parametrize("rows", ["0;1;\n1;2;\n", "0;1\n1;2\n"])
def test_separator_at_the_end_of_the_header_is_no_column(rows: str) -> None:
    """Whether the rows have it too or not."""
    head = parsed_head(f"time [s];a [g];\n{rows}".encode(), file="run.csv")
    assert [column.name for column in head.columns] == ["time", "a"]
    kept = parsed_head(b"time [s];a [g];\n0;1;5\n", file="run.csv")
    assert "column 3: the column has no name" in str(kept.columns[2].fault)


def test_brackets_within_a_unit_stay() -> None:
    """Only brackets around the whole unit go."""
    head = parsed_head(b"time;ax;f\nms;m/(s*s);(N)/(mm)\n0;1;2\n", file="run.csv")
    assert [column.unit for column in head.columns] == ["ms", "m/(s*s)", "(N)/(mm)"]


@pytest.mark.parametrize(
    ("data", "error", "sentence"),
    [
        (b"\x7fELF\x02\x01", FormatError, r"run\.csv: the file is not text; name a text file"),
        (b"", FormatError, r"run\.csv: the file is not text"),
        ("time [s],a [g]\n".encode("utf-16"), FormatError, "the file is text in UTF-16; save it as UTF-8"),
        (
            b"time [s],a [g]\r0,1\r",
            FormatError,
            "the lines end in a carriage return alone; save it with other",
        ),
        (b"# a\n\n# b\n", FormatError, r"run\.csv: there are only comments; write a header such as"),
        (
            b"x" * 65_536,
            FormatError,
            r"run\.csv: the first line is longer than 64 kB; write a header such as",
        ),
        (
            b"time,force\n0,1\n",
            FormatError,
            r"line 1: the columns have no units; write them in brackets after",
        ),
        (b"time;force\n0,5;1,5\n", FormatError, "line 1: the columns have no units"),
        (b"time,force\n", FormatError, "line 1: the columns have no units"),
        (b"time,force\nms\n0,1\n", FormatError, "line 1: the columns have no units"),
    ],
)
def test_start_that_is_no_header_is_refused(data: bytes, error: type[CorrelateError], sentence: str) -> None:
    """Each with what to do."""
    with pytest.raises(error, match=sentence):
        parsed_head(data, file="run.csv")


def test_only_whole_lines_of_a_long_file_are_looked_at() -> None:
    """A number cut in two at the end of the first look is no fault."""
    start = b"time [ms];force [kN]\n" + b"0;1\n" * 20_000
    cut = start[:65_535] + b"x"
    assert parsed_head(cut, file="run.csv").layout.decimal == "."
