"""Design points: designs, and the file they stand in."""

from __future__ import annotations

import csv
import io
import math
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal, get_args

import numpy as np

from correlate.errors import FormatError, SettingsError
from correlate.extras import need_extra
from correlate.files import write_text
from correlate.plain_files import whole_text

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
    """Name points and round their values to digits that a person can read."""
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
    """Write the table, completely or not at all."""
    write_text(path, points_text(space, points))


def points_text(space: ParameterSpace, points: Sequence[DesignPoint]) -> str:
    """Return the table as text."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([*_LEADING, *space.names])
    for one in points:
        writer.writerow([one.identity, one.round, *(repr(one.values[name]) for name in space.names)])
    return out.getvalue()


def read_points(path: Path, space: ParameterSpace) -> list[DesignPoint]:
    """Read the table."""
    try:
        text = whole_text(path, encoding="utf-8-sig")
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise FormatError(f"cannot be read ({reason})", where=str(path), remedy=_MAKE_IT) from error
    _refuse_other_layouts(path, text)
    reader = csv.DictReader(io.StringIO(text), skipinitialspace=True, restkey="?")
    try:
        return _points(path, reader, space)
    except csv.Error as error:
        where = f"{path}, line {reader.line_num + 1}"
        raise FormatError(
            f"the cells cannot be read ({error})", where=where, remedy="correct the line"
        ) from error


def _points(path: Path, reader: csv.DictReader[str], space: ParameterSpace) -> list[DesignPoint]:
    """Read all lines, and refuse them with every mistake."""
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
    if not re.fullmatch(r"[0-9]{1,9}", number):
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


DesignKind = Literal["sobol", "latin-hypercube", "morris"]
KINDS: Final[tuple[str, ...]] = get_args(DesignKind)
MORRIS_LEVELS: Final = 4
"""Levels of the grid that the trajectories walk on, the usual choice of Morris (1991)."""


def design(space: ParameterSpace, *, kind: DesignKind, runs: int, seed: int) -> list[DesignPoint]:
    """Spread design points over the box, the start point first.

    References
    ----------
    .. [1] Sobol' sequence: I. M. Sobol', USSR Comp. Math. Math. Phys. 7 (1967) 86-112; scrambling after
       A. B. Owen, J. Complexity 14 (1998) 466-489; both as in ``scipy.stats.qmc``.
    .. [2] McKay, Beckman, Conover, Technometrics 21 (1979) 239-245, as in ``scipy.stats.qmc``.
    .. [3] M. D. Morris, Technometrics 33 (1991) 161-174, as in SALib.
    """
    if runs < 2:
        raise SettingsError(f"a design of {runs} run has no spread", remedy="ask for two or more")
    makers = {"sobol": _sobol, "latin-hypercube": _latin_hypercube, "morris": _morris}
    spread = makers[kind](len(space.parameters), runs - 1, seed)
    points = np.vstack([space.start_point, space.from_unit(spread)])
    return points_of(space, points)


def further_points(
    space: ParameterSpace, points: Sequence[DesignPoint], *, runs: int, seed: int
) -> list[DesignPoint]:
    """Choose further points of a scrambled Sobol' sequence, for a design that told too little."""
    if runs < 1:
        raise SettingsError(f"{runs} points cannot be added", remedy="ask for one or more")
    first = max(1, next_number(points))
    spread = _sobol(len(space.parameters), first - 1 + runs, seed)[first - 1 :]
    return points_of(space, space.from_unit(spread), first=first)


def add_points(path: Path, space: ParameterSpace, *, runs: int, seed: int) -> list[DesignPoint]:
    """Append further points to a design file, and return them."""
    points = read_points(path, space)
    added = further_points(space, points, runs=runs, seed=seed)
    write_points(path, space, [*points, *added])
    return added


def _sobol(dimension: int, count: int, seed: int) -> NDArray[np.float64]:
    """Return the first points of the sequence; it is balanced at powers of two, and dense at any length."""
    from scipy.stats import qmc  # noqa: PLC0415 - slow to import

    power = max(1, math.ceil(math.log2(count))) if count > 1 else 0
    sampler = qmc.Sobol(dimension, scramble=True, rng=np.random.default_rng(seed))
    return np.asarray(sampler.random_base2(power)[:count], dtype=np.float64)


def _latin_hypercube(dimension: int, count: int, seed: int) -> NDArray[np.float64]:
    from scipy.stats import qmc  # noqa: PLC0415

    sampler = qmc.LatinHypercube(dimension, optimization="random-cd", rng=np.random.default_rng(seed))
    return np.asarray(sampler.random(count), dtype=np.float64)


def _morris(dimension: int, count: int, seed: int) -> NDArray[np.float64]:
    trajectories = count // (dimension + 1)
    if trajectories < 2:
        raise SettingsError(
            f"{count + 1} runs are too few for two trajectories of {dimension + 1} points",
            remedy=f"ask for {2 * (dimension + 1) + 1} or more",
        )
    need_extra("tuning", what="a design of the kind 'morris'")
    from SALib.sample import morris  # noqa: PLC0415 - slow to import

    problem = {
        "num_vars": dimension,
        "names": [str(number) for number in range(dimension)],
        "bounds": [[0.0, 1.0]] * dimension,
    }
    return np.asarray(
        morris.sample(problem, trajectories, num_levels=MORRIS_LEVELS, seed=seed), dtype=np.float64
    )
