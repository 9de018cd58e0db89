"""The decimal mark of delimited text: told where it can be, asked for where it cannot."""

from __future__ import annotations

import pytest

from correlate.errors import FormatError
from correlate.formats.delimited.header import found_decimal_mark


def found(separator: str, *lines: str) -> str:
    """Return the mark of lines with two columns, the first of them line 2."""
    return found_decimal_mark(enumerate(lines, start=2), separator, 2, file="run.csv")


@pytest.mark.parametrize(
    ("separator", "lines", "mark"),
    [
        (";", ["0,5;1,5"], ","),
        ("\t", ["0\t1", "1\t1,25"], ","),
        (";", ["0,000;1,500", "0,100;2,500"], ","),  # no thousands start with a zero
        (";", ["1,500;2,500", "2,500;1234,500"], ","),  # nor do they leave four digits alone
        (";", ["1,5e3;2"], ","),
        (";", ["0.5;1.5"], "."),
        (";", ["1.500;2.500"], "."),
        (";", ["1;2"], "."),
        ("\t", ["x,y\t1.5"], "."),
        (",", ["0,5", "1,7"], "."),
        (",", ["0.5,1"], "."),
        (";", [], "."),
        (";", ["0.5;1,500"], "."),  # the other column tells it
        (";", ["0,5;1.500"], ","),
        (";", ["0,5;1.25;2,5", "1,5;1.25;3"], ","),  # two columns against one
    ],
)
def test_decimal_mark_that_can_be_told(separator: str, lines: list[str], mark: str) -> None:
    """One cell is enough that can be read in one way only."""
    assert found(separator, *lines) == mark


@pytest.mark.parametrize(
    ("separator", "lines", "sentence"),
    [
        (
            ",",
            ["0,1,5"],
            r"line 2: the line '0,1,5' has 3 cells and the header 2: are commas used as decimal",
        ),
        (",", ["0.5,1", "0,5,1,5"], r"line 3: the line '0,5,1,5' has 4 cells and the header 2: are commas"),
        (
            ";",
            ["0;1", "1;1,500"],
            "line 3: in '1,500', is the comma a decimal mark or does it group thousands?",
        ),
        (";", ["0; 1,500 "], "line 2: in '1,500', is the comma a decimal mark or does it group"),
        (";", ["-1,234,567;0"], "line 2: in '-1,234,567', is the comma a decimal mark or does it group"),
        (";", ["0;1,234.5"], "line 2: in '1,234.5', which of comma and point is the decimal mark?"),
        (";", ["0,5;1.25"], "line 2: in '0,5', which of comma and point is the decimal mark?"),
        (";", ["0;1.234,5"], "line 2: in '1.234,5', which of comma and point is the decimal mark?"),
    ],
)
def test_decimal_mark_that_cannot_be_told_is_asked_for(
    separator: str, lines: list[str], sentence: str
) -> None:
    """The question quotes the place, the remedy says how to settle it."""
    with pytest.raises(FormatError, match=rf"^run\.csv, {sentence}.*; write "):
        found(separator, *lines)


def test_column_of_the_times_decides() -> None:
    """Without it nothing can be read."""
    lines = [(2, "0,5;1.25;2.5")]
    assert found_decimal_mark(lines, ";", 3, file="run.csv", time=0) == ","
    assert found_decimal_mark(lines, ";", 3, file="run.csv") == "."
