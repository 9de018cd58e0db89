"""The table of design points beside the tuning file: written here, edited by people, read again."""

from __future__ import annotations

import csv
import io
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import FormatError
from correlate.files import write_text

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

    from correlate.tuning.parameters import ParameterSpace

DIGITS: Final = 6
"""Significant digits of a designed value, so that a person can read and retype it."""

_IDENTITY: Final = re.compile(r"^\w[\w.+-]*$")
_LEADING: Final = ("point", "round")
_MAKE_IT: Final = "make it with 'correlate tune design'"


@dataclass(frozen=True, slots=True, kw_only=True)
class DesignPoint:
    """One line of the table.

    Attributes
    ----------
    identity
        Short name; that of the folder of its run.
    round
        0 for the design, 1 and up for the batches proposed after it.
    values
        By parameter.
    """

    identity: str
    round: int
    values: dict[str, float]


def points_of(
    space: ParameterSpace, points: NDArray[np.float64], *, round_number: int = 0, first: int = 0
) -> list[DesignPoint]:
    """Name points and round their values to digits that a person can read.

    Parameters
    ----------
    space
        Of the parameters.
    points
        Shape ``(n, d)``.
    round_number
        Of the batch.
    first
        Number of the first name.

    Returns
    -------
    list of DesignPoint
        A value is never rounded past its bound; a start value is kept as it is.
    """
    found = []
    for number, point in enumerate(points, start=first):
        rounded = np.array([float(f"{value:.{DIGITS}g}") for value in point])
        kept = np.where(point == space.start_point, point, np.clip(rounded, space.lower, space.upper))
        found.append(DesignPoint(identity=f"p{number:03d}", round=round_number, values=space.as_values(kept)))
    return found


def next_number(points: Sequence[DesignPoint]) -> int:
    """Return a number above that of every point called ``p`` and a number."""
    numbers = [int(match[1]) for one in points if (match := re.fullmatch(r"p(\d+)", one.identity))]
    return max(numbers, default=-1) + 1


def write_points(path: Path, space: ParameterSpace, points: Sequence[DesignPoint]) -> None:
    """Write the table, completely or not at all.

    Parameters
    ----------
    path
        Of the CSV file.
    space
        Of the parameters, one column each.
    points
        One line each.

    Raises
    ------
    FormatError
        The folder may not be written to.
    """
    write_text(path, points_text(space, points))


def points_text(space: ParameterSpace, points: Sequence[DesignPoint]) -> str:
    """Return the table as text.

    Parameters
    ----------
    space
        Of the parameters, one column each.
    points
        One line each.

    Returns
    -------
    str
        CSV.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*_LEADING, *space.names])
    for one in points:
        writer.writerow([one.identity, one.round, *(repr(one.values[name]) for name in space.names)])
    return out.getvalue()


def read_points(path: Path, space: ParameterSpace) -> list[DesignPoint]:
    """Read the table.

    Parameters
    ----------
    path
        Of the CSV file: columns ``point`` and one a parameter; ``round`` may be left out or empty for 0.
    space
        Of the parameters.

    Returns
    -------
    list of DesignPoint
        In the order of the file.

    Raises
    ------
    FormatError
        The file is absent or has mistakes; all are reported at once, each with its line and column.
    """
    try:
        text = path.read_text(encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise FormatError(f"cannot be read ({reason})", where=str(path), remedy=_MAKE_IT) from error
    _refuse_other_layouts(path, text)
    reader = csv.DictReader(io.StringIO(text), skipinitialspace=True, restkey="?")
    found = list(_column_mistakes(list(reader.fieldnames or []), space))
    if found:
        raise FormatError("; ".join(found), where=f"{path}, line 1", remedy="correct the columns")
    points: list[DesignPoint] = []
    for row in reader:
        if None in row.values() and any(row.values()):
            cells = sum(value is not None for value in row.values())
            found.append(f"line {reader.line_num}: {cells} of {len(row)} cells")
        elif any(value and value.strip() for value in row.values() if isinstance(value, str)):
            point = _point(row, space, found, line=reader.line_num)
            if any(one.identity == point.identity for one in points):
                found.append(f"line {reader.line_num}: point '{point.identity}' occurs twice")
            points.append(point)
    if found:
        raise FormatError("; ".join(found), where=str(path), remedy="correct the lines")
    if not points:
        raise FormatError("there is no point in it", where=str(path), remedy=_MAKE_IT)
    return points


def _refuse_other_layouts(path: Path, text: str) -> None:
    """Refuse a file without a line, and one whose cells are separated by anything but commas."""
    if not text.strip():
        raise FormatError("the file is empty", where=str(path), remedy=_MAKE_IT)
    header = text.splitlines()[0]
    for mark, name in ((";", "semicolons"), ("\t", "tabulators")):
        if mark in header and "," not in header:
            raise FormatError(
                f"the cells are separated by {name}",
                where=f"{path}, line 1",
                remedy="separate with commas, and write decimals with a point",
            )


def _column_mistakes(columns: list[str], space: ParameterSpace) -> Iterator[str]:
    for name in ("point", *space.names):
        if name not in columns:
            yield f"column '{name}' is missing"
    for name in columns:
        if name not in {*_LEADING, *space.names}:
            yield f"column '{name}' is not a parameter"
        elif columns.count(name) > 1:
            yield f"column '{name}' occurs twice"


def _point(row: dict[str, str | None], space: ParameterSpace, found: list[str], *, line: int) -> DesignPoint:
    """Read one line; write what is wrong with it into ``found``."""
    if "?" in row:
        found.append(f"line {line}: there are more values than columns")
    identity = (row["point"] or "").strip()
    if not _IDENTITY.match(identity):
        found.append(f"line {line}, point: '{identity}' is not a valid name; use letters, digits and '-'")
    number = (row.get("round") or "0").strip() or "0"
    if not re.fullmatch(r"\d+", number):
        found.append(f"line {line}, round: '{number}' is not a whole number")
        number = "0"
    values = {}
    for one in space.parameters:
        written = (row[one.name] or "").strip()
        try:
            value = float(written)
        except ValueError:
            found.append(f"line {line}, {one.name}: '{written}' is not a number")
            continue
        if not one.lower <= value <= one.upper:
            found.append(f"line {line}, {one.name}: {written} is outside {one.lower:g} to {one.upper:g}")
        values[one.name] = value
    return DesignPoint(identity=identity, round=int(number), values=values)
