"""Control charts of single values: limits from moving ranges, and the values that lie outside them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from correlate.display import short_repr

if TYPE_CHECKING:
    from collections.abc import Sequence


D2: Final = 2.0 / math.sqrt(math.pi)
"""Mean range of two standard normal values, 1.128."""
INDIVIDUAL_FACTOR: Final = 3.0 / D2
"""Limits of a single value over the mean moving range, 2.659; tables print 2.66."""
RANGE_FACTOR: Final = 1.0 + 3.0 * math.sqrt(2.0 - D2**2) / D2
"""Upper limit of a moving range over the mean moving range, 3.267: the standard deviation of the range of two
standard normal values is ``sqrt(2 - 4/π)``."""
RUN: Final = 8
"""So many values in a row on one side of the centre are an alarm."""
LEAST_RANGES: Final = 4
"""Fewest moving ranges that give limits; chosen here."""

Alarm = Literal["outside the limits", "range above its limit", "run on one side"]


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class ControlChart:
    """Limits of single values and of moving ranges.

    Attributes
    ----------
    centre
        Mean of the values of its part, one for each value: parts are separated by exchanges.
    mean_range
        Mean of the moving ranges within the parts.
    ranges
        Moving range of each value; None for the first of a part.
    alarms
        Of each value, none to several.
    """

    centre: tuple[float, ...]
    mean_range: float
    ranges: tuple[float | None, ...]
    alarms: tuple[tuple[Alarm, ...], ...]

    @property
    def lower(self) -> tuple[float, ...]:
        """Lower limit of each value."""
        return tuple(centre - INDIVIDUAL_FACTOR * self.mean_range for centre in self.centre)

    @property
    def upper(self) -> tuple[float, ...]:
        """Upper limit of each value."""
        return tuple(centre + INDIVIDUAL_FACTOR * self.mean_range for centre in self.centre)

    @property
    def upper_range(self) -> float:
        """Upper limit of the moving ranges; the lower one is 0."""
        return RANGE_FACTOR * self.mean_range


def control_chart(values: Sequence[float], *, starts: Sequence[int] = ()) -> ControlChart | None:
    r"""Return limits for single values in the order of time.

    .. math:: \overline{MR} = \frac{1}{m} \sum |x_i - x_{i-1}|, \qquad
              \bar x \pm 2.66\,\overline{MR}, \qquad MR \le 3.267\,\overline{MR}

    Parameters
    ----------
    values
        :math:`x_i`, the oldest first.
    starts
        Numbers of the values that begin a new part, from 0. Each part has a mean of its own; no range is
        taken across a begin, and all parts share one mean range.

    Returns
    -------
    ControlChart or None
        None with fewer than four moving ranges.

    References
    ----------
    .. [1] ISO 7870-2, Shewhart control charts (from memory); NIST/SEMATECH e-Handbook of Statistical Methods,
       6.3.2.2 and, for eight in a row on one side, 6.3.2 (from memory); Montgomery and Runger, Applied
       Statistics and Probability for Engineers, equations 16-18 and 16-19.

    Examples
    --------
    >>> chart = control_chart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> round(chart.lower[0], 2), round(chart.centre[0], 2), round(chart.upper[0], 2)
    (45.82, 50.81, 55.8)
    """
    parts = parts_of(len(values), starts)
    ranges: list[float | None] = []
    for part in parts:
        own = values[part]
        ranges += [None, *(abs(second - first) for first, second in pairwise(own))]
    known = [one for one in ranges if one is not None]
    if len(known) < LEAST_RANGES:
        return None
    mean_range = math.fsum(known) / len(known)
    centre = [float(np.mean(values[part])) for part in parts for _ in values[part]]
    runs = {at for part in parts for at in _run_ends(values, centre, part)}
    alarms = tuple(
        _alarms(value, middle, step, mean_range=mean_range, in_run=at in runs)
        for at, (value, middle, step) in enumerate(zip(values, centre, ranges, strict=True))
    )
    return ControlChart(centre=tuple(centre), mean_range=mean_range, ranges=tuple(ranges), alarms=alarms)


def parts_of(count: int, starts: Sequence[int]) -> list[slice]:
    """Return the parts of a series, none of them empty."""
    ends = sorted({0, count, *(one for one in starts if 0 < one < count)})
    return [slice(first, last) for first, last in pairwise(ends)]


def _alarms(
    value: float, centre: float, step: float | None, *, mean_range: float, in_run: bool
) -> tuple[Alarm, ...]:
    found: list[Alarm] = []
    if abs(value - centre) > INDIVIDUAL_FACTOR * mean_range:
        found.append("outside the limits")
    if step is not None and step > RANGE_FACTOR * mean_range:
        found.append("range above its limit")
    if in_run:
        found.append("run on one side")
    return tuple(found)


def _run_ends(values: Sequence[float], centre: Sequence[float], part: slice) -> list[int]:
    """Return the values that are the last of eight in a row, or further ones, on one side of the centre."""
    found, length, side = [], 0, 0.0
    for at in range(part.start, part.stop):
        now = math.copysign(1.0, values[at] - centre[at]) if values[at] != centre[at] else 0.0
        length = length + 1 if now == side and now else int(now != 0.0)
        side = now
        if length >= RUN:
            found.append(at)
    return found
