"""The table of design points: written, edited by hand, read again."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.errors import FormatError
from correlate.tuning.parameters import Parameter, ParameterSpace
from correlate.tuning.points import DesignPoint, next_number, points_of, read_points, write_points

if TYPE_CHECKING:
    from pathlib import Path

SPACE = ParameterSpace(
    (
        Parameter(name="a", unit="1", lower=1, upper=np.pi, start=1.23456789),
        Parameter(name="b", unit="1", lower=-1, upper=1, start=0),
    )
)


def test_points_come_back_as_they_were_written(tmp_path: Path) -> None:
    """Names, rounds and every digit."""
    points = [DesignPoint(identity="start", round=3, values={"a": 1 / 3 + 1, "b": -1e-17})]
    write_points(tmp_path / "d.csv", SPACE, points)
    assert read_points(tmp_path / "d.csv", SPACE) == points


def test_values_are_rounded_but_not_past_a_bound_and_not_the_start() -> None:
    """Six digits, except that pi stays inside and the start value stays the start value."""
    points = points_of(SPACE, np.array([[1.23456789, 0], [2.00000049, 0.123456789], [np.pi, 1]]), first=8)
    assert [one.identity for one in points] == ["p008", "p009", "p010"]
    assert points[0].values["a"] == 1.23456789
    assert points[1].values == {"a": 2.0, "b": 0.123457}
    assert points[2].values["a"] <= np.pi
    assert next_number(points) == 11
    assert next_number([]) == 0


def test_a_person_may_edit_the_table(tmp_path: Path) -> None:
    """Columns in another order, no rounds, spaces, an empty line and a byte order mark do no harm."""
    (tmp_path / "d.csv").write_bytes("\ufeffb, a, point\n0.5, 2, mine\n\n,,\n".encode())
    assert read_points(tmp_path / "d.csv", SPACE) == [
        DesignPoint(identity="mine", round=0, values={"a": 2.0, "b": 0.5})
    ]


def test_all_mistakes_are_reported_at_once_with_line_and_column(tmp_path: Path) -> None:
    """A value outside, one that is no number, a name twice, and a cell too many."""
    (tmp_path / "d.csv").write_text("point,a,b\nx,2,7\nx,two,0\ny,2,0,9\n", encoding="utf-8")
    with pytest.raises(FormatError, match="line 2, b: 7 is outside -1 to 1") as caught:
        read_points(tmp_path / "d.csv", SPACE)
    message = str(caught.value)
    assert "line 3, a: 'two' is not a number" in message
    assert "line 3: point 'x' occurs twice" in message
    assert "line 4: there are more values than columns" in message


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("point,a\nx,2\n", "line 1: column 'b' is missing"),
        ("point,a,b,c\nx,2,0,1\n", "line 1: column 'c' is not a parameter"),
        ("point,a,b,b\nx,2,0,1\n", "line 1: column 'b' occurs twice"),
        ("point,a,b\n../x,2,0\n", r"line 2, point: '\.\./x' is not a valid name"),
        ("point,round,a,b\nx,-1,2,0\n", "line 2, round: '-1' is not a whole number"),
        (f"point,round,a,b\nx,{'1' * 5000},2,0\n", "line 2, round: '1+… is not a whole number"),
        ("point,round,a,b\nx,٣,2,0\n", "line 2, round: '٣' is not a whole number"),
        (f"point,a,b\nx,2,{'0' * 140_000}\n", "line 2: the cells cannot be read .field larger than"),
        ("point,a,b\nx,nan,0\n", "line 2, a: nan is outside"),
        ("point;a;b\nx;2;0\n", "line 1: the cells are separated by semicolons; separate with commas"),
        ("point,a,b\nx,2\n", "line 2: 2 of 3 cells; correct the lines$"),
        ("point,a,b\n\n", r"there is no point in it; make it with 'correlate tune design'$"),
        ("\n", "the file is empty; make it with 'correlate tune design'$"),
    ],
)
def test_tables_that_cannot_be_used_are_refused(tmp_path: Path, text: str, message: str) -> None:
    """Each mistake has its sentence."""
    (tmp_path / "d.csv").write_text(text, encoding="utf-8")
    with pytest.raises(FormatError, match=message):
        read_points(tmp_path / "d.csv", SPACE)


def test_an_absent_table_says_how_to_make_one(tmp_path: Path) -> None:
    """The remedy is the command."""
    with pytest.raises(FormatError, match="make it with 'correlate tune design'"):
        read_points(tmp_path / "d.csv", SPACE)
