"""Published corridors, given as points: read from TOML or CSV, used like those of repeats."""

from __future__ import annotations

import csv
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any, Final

import numpy as np
from pydantic import Field, ValidationError, field_validator, model_validator

from correlate.errors import FormatError, SignalError, UnitError
from correlate.plain_files import whole_text
from correlate.reference.corridor import Corridor
from correlate.samples import frozen_samples, handed_over
from correlate.toml import Table, read_toml, speak_up
from correlate.units import conversion_factor, parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

Finite = Annotated[float, Field(allow_inf_nan=False)]
Points = tuple[tuple[Finite, Finite], ...]

EDGES: Final = ("lower", "upper")
COLUMNS: Final = ("edge", "time_ms", "value")
_KIND: Final = "a file of a corridor"


class PublishedCorridor(Table):
    """A corridor between two polylines.

    Attributes
    ----------
    title
        Title, for the legend.
    source
        Where it is published: standard or paper, figure or table.
    channel
        Channel of the tests that it is for; empty if only one channel is compared.
    unit
        Unit of the values.
    lower, upper
        Corners of the two edges, two or more each: time in ms, and value. Straight lines between them.
    """

    title: str
    source: str
    channel: str = ""
    unit: str
    lower: Points
    upper: Points

    @field_validator("unit")
    @classmethod
    def _known(cls, unit: str) -> str:
        speak_up(lambda: parse_unit(unit))
        return unit

    @field_validator(*EDGES)
    @classmethod
    def _rising(cls, points: Points) -> Points:
        if len(points) < 2:
            raise ValueError("an edge needs two points or more")
        for before, after in pairwise(points):
            if after[0] <= before[0]:
                raise ValueError(
                    f"the time {after[0]:g} ms does not come after {before[0]:g} ms: sort the points, and "
                    "move one of two at the same time by a little"
                )
        return points

    @model_validator(mode="after")
    def _apart(self) -> PublishedCorridor:
        start, end = self.interval_ms
        if start >= end:
            raise ValueError("the two edges have no time in common")
        corners = sorted({time for time, _ in (*self.lower, *self.upper) if start <= time <= end})
        low, high = self._edge("lower", np.array(corners)), self._edge("upper", np.array(corners))
        if (crossed := np.flatnonzero(low > high)).size:
            raise ValueError(f"the lower edge is above the upper one at {corners[crossed[0]]:g} ms")
        return self

    @property
    def interval_ms(self) -> tuple[float, float]:
        """Time that both edges cover."""
        return max(self.lower[0][0], self.upper[0][0]), min(self.lower[-1][0], self.upper[-1][0])

    def _edge(self, name: str, time_ms: Floats) -> Floats:
        times, values = np.array(getattr(self, name)).T
        return np.asarray(np.interp(time_ms, times, values))

    def corridor(self, time_s: Floats, *, unit: str, channel: str) -> Corridor:
        """Return it on a time grid, as far as both edges reach.

        Parameters
        ----------
        time_s
            Shape ``(n,)``, one step.
        unit
            Of the result.
        channel
            That it is compared with.

        Returns
        -------
        Corridor
            Its centre is the middle between the edges; there are no repeats behind it.

        Raises
        ------
        UnitError
            The units measure different things.
        SignalError
            Fewer than two instants of the grid are covered.
        """
        factor = self._factor(unit, channel)
        start, end = self.interval_ms
        covered = time_s[(time_s >= start / 1e3 - 1e-9) & (time_s <= end / 1e3 + 1e-9)]
        if covered.size < 2:
            raise SignalError(
                f"the corridor '{self.title}' covers {start:g} ms to {end:g} ms, the curves "
                f"{time_s[0] * 1e3:g} ms to {time_s[-1] * 1e3:g} ms",
                where=channel,
                remedy="choose an interval that both cover",
            )
        edges = [factor * self._edge(name, 1e3 * covered) for name in EDGES]
        # A negative factor turns the edges over.
        lower, upper = np.minimum(*edges), np.maximum(*edges)
        return Corridor(
            time_s=frozen_samples(handed_over(covered), channel="time"),
            centre=frozen_samples(handed_over((lower + upper) / 2), channel=channel),
            lower=frozen_samples(handed_over(lower), channel=channel),
            upper=frozen_samples(handed_over(upper), channel=channel),
            unit=unit,
            channel=channel,
            kind=self.title,
            repeats=0,
            assumptions=(
                f"published: {self.source}",
                "straight lines between the points; nothing is moved in time",
                *self._partly(time_s, covered),
            ),
        )

    def _factor(self, unit: str, channel: str) -> float:
        try:
            return conversion_factor(self.unit, unit)
        except UnitError as error:
            raise UnitError(
                f"the corridor '{self.title}' is in '{self.unit}', the channel in '{unit}'",
                where=channel,
                remedy="correct 'unit' or 'channel' in the file of the corridor",
            ) from error

    def _partly(self, time_s: Floats, covered: Floats) -> tuple[str, ...]:
        if covered.size == time_s.size:
            return ()
        start, end = covered[0] * 1e3, covered[-1] * 1e3
        return (f"compared from {start:g} to {end:g} ms only, where the corridor has both edges",)


def load_published_corridor(path: str | Path) -> PublishedCorridor:
    """Read a corridor given as points.

    Parameters
    ----------
    path
        A TOML file with the keys of :class:`PublishedCorridor`, or a CSV file with the columns ``edge``,
        ``time_ms`` and ``value``, and the other keys before them in lines such as ``# unit: kN``.

    Returns
    -------
    PublishedCorridor

    Raises
    ------
    FormatError
        The file is absent or holds mistakes; line or key is named.
    """
    path = Path(path)
    if path.suffix.lower() != ".csv":
        return read_toml(path, PublishedCorridor, kind=_KIND).table
    try:
        lines = whole_text(path, encoding="utf-8-sig").splitlines()
    except (OSError, ValueError) as error:
        said = getattr(error, "strerror", None) or "it is not UTF-8 text"
        raise FormatError(f"cannot be read ({said})", where=str(path), remedy=f"name {_KIND}") from error
    content: dict[str, Any] = dict(_comments(lines)) | {name: [] for name in EDGES}
    for edge, point in _points(path, lines):
        content[edge].append(point)
    try:
        return PublishedCorridor.model_validate(content)
    except ValidationError as error:
        first = error.errors()[0]
        key = ".".join(str(part) for part in first["loc"][:1])
        what = str(first["msg"]).removeprefix("Value error, ")
        raise FormatError(
            f"{key}: {what}" if key else what, where=str(path), remedy="correct the file"
        ) from None


def _comments(lines: list[str]) -> Iterator[tuple[str, str]]:
    for line in lines:
        key, colon, value = line.removeprefix("#").partition(":")
        if line.startswith("#") and colon:
            yield key.strip(), value.strip()


def _points(path: Path, lines: list[str]) -> Iterator[tuple[str, tuple[float, float]]]:
    """Yield edge and point of every line; the first line that is no comment names the columns."""
    heading: list[str] = []
    for number, line in enumerate(lines, start=1):
        if not line.strip() or line.startswith("#"):
            continue
        cells = _cells(path, number, line)
        if not heading:
            heading = cells
            if sorted(heading) != sorted(COLUMNS):
                raise _wrong(path, number, f"the columns are {', '.join(heading)}")
            continue
        row = dict(zip(heading, cells, strict=False))
        try:
            edge, point = row["edge"], (float(row["time_ms"]), float(row["value"]))
        except (KeyError, ValueError):
            raise _wrong(path, number, f"'{line}' is not an edge with two numbers") from None
        if edge not in EDGES:
            raise _wrong(path, number, f"'{edge}' is not an edge")
        yield edge, point


def _cells(path: Path, number: int, line: str) -> list[str]:
    try:
        return [cell.strip() for cell in next(csv.reader([line]))]
    except csv.Error as error:
        raise _wrong(path, number, f"the cells cannot be read ({error})") from error


def _wrong(path: Path, line: int, what: str) -> FormatError:
    return FormatError(
        what,
        where=f"{path}, line {line}",
        remedy="write the columns edge, time_ms, value, with lower or upper as edge",
    )
