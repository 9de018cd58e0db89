"""Regions of the parameters in which runs fail, reported only if not explained by chance."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.tuning.runs import RunTable

    Floats = NDArray[np.float64]
    Flags = NDArray[np.bool_]

LEVEL: Final = 0.05
"""Significance level: chance of reporting a region if failures do not depend on the parameters."""
SHUFFLES: Final = 999
MOST_REGIONS: Final = 2
_CELLS: Final = 2_000_000
"""Counts that are held in memory at a time."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FailedRegion:
    """A part of the range of one parameter in which more runs fail than elsewhere.

    Attributes
    ----------
    parameter, unit
        Name and unit.
    above
        Whether the part lies above the value; below it otherwise.
    value
        Threshold between two runs, with no more digits than needed.
    failed_inside, inside, failed_outside, outside
        Runs.
    p
        Share of the random permutations of the failures with a p-value as small for any threshold.
    """

    parameter: str
    unit: str
    above: bool
    value: float
    failed_inside: int
    inside: int
    failed_outside: int
    outside: int
    p: float

    @property
    def words(self) -> str:
        """One sentence without its end.

        Examples
        --------
        >>> FailedRegion(parameter="neck_rubber_modulus", unit="MPa", above=True, value=7.1,
        ...     failed_inside=6, inside=7, failed_outside=1, outside=33, p=0.0005).words
        'runs fail where neck_rubber_modulus is above 7.1 MPa (6 of 7 failed there, 1 of 33 elsewhere)'
        """
        side = "above" if self.above else "below"
        value = f"{self.value:.12g} {self.unit}".removesuffix(" 1")
        counts = (
            f"{self.failed_inside} of {self.inside} failed there, {self.failed_outside} of {self.outside}"
        )
        return f"runs fail where {self.parameter} is {side} {value} ({counts} elsewhere)"


def failed_regions(table: RunTable, *, seed: int = 0) -> tuple[FailedRegion, ...]:
    """Describe where runs fail, by one threshold of one parameter each.

    Parameters
    ----------
    table
        Waiting runs are left out; every other run that is not done counts as failed.
    seed
        Of the permutations.

    Returns
    -------
    tuple of FailedRegion
        At most two, the second among the runs outside the first. Empty where no threshold is better
        than chance, or where all runs ended in the same way.

    Notes
    -----
    Each threshold is assessed by Fisher's exact test, one-sided. The smallest p-value over all thresholds of
    all parameters is compared with the smallest one after random permutations of the failures among the
    runs, which accounts for the selection.
    """
    rows = np.flatnonzero(table.ended)
    found: list[FailedRegion] = []
    while len(found) < MOST_REGIONS:
        region, inside = _best_region(table, rows, seed)
        if region is None or region.p > LEVEL:
            break
        found.append(region)
        rows = rows[~inside]
    return tuple(found)


def _best_region(table: RunTable, rows: NDArray[np.int64], seed: int) -> tuple[FailedRegion | None, Flags]:
    """Return the best threshold among some runs, and which of them are inside."""
    failed = ~table.done[rows]
    cube = table.space.to_unit(table.points[rows])
    splits = _Splits(cube, int(failed.sum()))
    if not splits.exist:
        return None, np.zeros(rows.size, dtype=np.bool_)
    least, (place, first, above) = splits.best(failed)
    random = np.random.default_rng(seed)
    shuffled = random.permuted(np.broadcast_to(failed, (SHUFFLES, failed.size)), axis=1)
    # Equal tables may differ in the last bit.
    as_bad = np.count_nonzero(splits.least(shuffled) <= least * (1 + 1e-9))
    inside = (cube[:, place] > splits.last_below(place, first)) == above
    values = table.points[rows, place]
    parameter = table.space.parameters[place]
    region = FailedRegion(
        parameter=parameter.name,
        unit=parameter.unit,
        above=above,
        value=_between(*((values[~inside], values[inside]) if above else (values[inside], values[~inside]))),
        failed_inside=int(failed[inside].sum()),
        inside=int(inside.sum()),
        failed_outside=int(failed[~inside].sum()),
        outside=int((~inside).sum()),
        p=(1 + as_bad) / (1 + SHUFFLES),
    )
    return region, inside


def _between(low: Floats, high: Floats) -> float:
    """Return the shortest number that separates two groups of values, near the middle between them."""
    last, first = float(low.max()), float(high.min())
    middle = last + (first - last) / 2
    rounded = (float(f"{middle:.{digits}g}") for digits in range(2, 17))
    return next((value for value in rounded if last < value < first), middle)


class _Splits:
    """All ways to divide runs by one threshold of one parameter."""

    def __init__(self, cube: Floats, failures: int) -> None:
        self._order = np.argsort(cube, axis=0, kind="stable")
        self._sorted = np.take_along_axis(cube, self._order, axis=0)
        # Between runs of equal value there is no threshold.
        self._parts = np.diff(self._sorted, axis=0) > 0
        count = len(cube)
        self._failures = failures
        self.exist = bool(self._parts.any()) and 0 < failures < count
        if self.exist:
            self._below, self._above = _fisher(count, failures)

    def last_below(self, place: int, first: int) -> float:
        """Return the value on the cube that the threshold lies just above."""
        return float(self._sorted[first, place])

    def best(self, failed: Flags) -> tuple[float, tuple[int, int, bool]]:
        """Return the least p, its parameter, the last run below its threshold, and whether it is above."""
        below = np.cumsum(failed[self._order], axis=0)[:-1]
        sizes = np.arange(below.shape[0])[:, None]
        both = np.where(self._parts, [self._below[sizes, below], self._above[sizes, below]], np.inf)
        above, first, place = np.unravel_index(int(both.argmin()), both.shape)
        return float(both.min()), (int(place), int(first), bool(above))

    def least(self, failed: Flags) -> Floats:
        """Return the least p for each row of failures, shape ``(m,)``."""
        table = np.minimum(self._below, self._above).ravel()
        starts = np.arange(self._parts.shape[0])[:, None] * self._below.shape[1]
        step = max(1, _CELLS // self._order.size)
        found = []
        for at in range(0, len(failed), step):
            below = np.cumsum(failed[at : at + step, self._order], axis=1, dtype=np.int32)[:, :-1]
            p = table[below + starts]
            found.append(np.min(p, axis=(1, 2), where=self._parts, initial=np.inf))
        return np.concatenate(found)


def _fisher(count: int, failures: int) -> tuple[Floats, Floats]:
    """Return the p of as many failures below, and above, by the runs below minus one and their failures."""
    from scipy.stats import hypergeom  # noqa: PLC0415 - slow to import

    size = np.arange(1, count)[:, None]
    below = np.arange(failures + 1)[None, :]
    more_below = hypergeom.sf(below - 1, count, failures, size)
    more_above = hypergeom.sf(failures - below - 1, count, failures, count - size)
    return np.asarray(more_below), np.asarray(more_above)
