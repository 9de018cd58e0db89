"""Time-dependent limits: the longer a curve is above a level, the lower the level may be."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.criteria.result import CriterionResult, checked_curves
from correlate.display import short_repr
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


_FLAT: Final = 1e-7
"""Share of the range of a curve below which two neighbouring samples count as level: keeps slopes finite."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class DurationLimit:
    """A level that must not be exceeded, by the time for which the curve is above it.

    Attributes
    ----------
    durations_s
        Times in total, rising from 0, s.
    levels
        Largest level for each, above zero and never rising. Straight lines between; constant after the last.
    """

    durations_s: tuple[float, ...]
    levels: tuple[float, ...]

    def __post_init__(self) -> None:
        """Refuse durations or levels that are not valid."""
        times, levels = np.asarray(self.durations_s), np.asarray(self.levels)
        valid = (
            times.size == levels.size > 0
            and times[0] == 0
            and bool(np.all(np.diff(times) > 0))
            and bool(np.all(np.diff(levels) <= 0))
            and bool(np.all(levels > 0))
        )
        if not valid:
            raise SettingsError(
                f"the limit {list(self.levels)} at {list(self.durations_s)} s is not valid",
                remedy="give durations that rise from 0, and as many levels, above zero and never rising",
            )

    def at(self, durations_s: Floats) -> Floats:
        """Return the limit at durations, s."""
        return np.interp(durations_s, self.durations_s, self.levels)


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ExceedanceCurve:
    """For how long in total a curve is at or above each level.

    Attributes
    ----------
    levels
        Never rising from the largest sample on down to 0, shape ``(m,)``, in the unit of the curve.
    durations_s
        Time in total at or above each, never falling, shape ``(m,)``, s. Straight lines between; a level that
        the curve holds is listed twice, with the time above it and that at it.
    """

    levels: Floats
    durations_s: Floats


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class ExceedanceResult(CriterionResult):
    """The largest ratio of a curve to a limit that depends on duration.

    Attributes
    ----------
    level
        Level at which the ratio is largest, in the unit of the curve; 0 where the curve is never above zero.
    duration_s
        Time in total at or above it, s.
    limit
        What is allowed for that time.
    """

    level: float
    duration_s: float
    limit: float


def exceedance_curve(values: ArrayLike, *, step_s: float) -> ExceedanceCurve:
    r"""Return for how long in total a curve is at or above each level.

    .. math:: T(F) = \int \left[ f(t) \ge F \right] dt

    Parameters
    ----------
    values
        :math:`f`, shape ``(n,)``, any unit; only what is above zero counts.
    step_s
        Sampling interval, s.

    Returns
    -------
    ExceedanceCurve
        At every sample value above zero, and at zero.

    Raises
    ------
    SignalError
        Fewer than two samples, or one that is not finite.

    Notes
    -----
    Between samples the curve is a straight line, so that :math:`T` is one between sample values. The cost is
    that of sorting the samples.

    References
    ----------
    .. [1] SAE J1727, cumulative exceedance, from memory. Straight lines between samples: choice made here.

    Examples
    --------
    >>> found = exceedance_curve([0.0, 30.0, 60.0, 30.0, 0.0], step_s=0.003)
    >>> found.levels.tolist(), found.durations_s.tolist()
    ([60.0, 30.0, 0.0], [0.0, 0.006, 0.012])
    """
    (curve,) = checked_curves(step_s, values=values)
    low, high, flat = _sloping_and_level(curve)
    slopes = 1.0 / (high - low)
    levels = np.append(np.unique(curve[curve > 0])[::-1], 0.0)
    sloping = _reached(high, slopes, levels) - _reached(low, slopes, levels)
    over, at_least = (flat.size - np.searchsorted(flat, levels, side=side) for side in ("right", "left"))
    # A level that is held makes a step: the duration above it, then that at it.
    durations = np.column_stack([sloping + over, sloping + at_least])
    kept = np.column_stack([at_least > over, np.ones(levels.size, dtype=np.bool_)])
    return ExceedanceCurve(
        levels=np.column_stack([levels, levels])[kept],
        durations_s=step_s * np.maximum.accumulate(np.maximum(durations[kept], 0.0)),
    )


def exceedance(values: ArrayLike, *, step_s: float, limit: DurationLimit) -> ExceedanceResult:
    r"""Return the largest ratio of a curve to a limit that depends on the time above it.

    .. math:: R = \max_F \frac{F}{L(T(F))}

    Parameters
    ----------
    values
        Force in the direction that counts, positive, shape ``(n,)``, any unit.
    step_s
        Sampling interval, s.
    limit
        :math:`L`, in the unit of `values`.

    Returns
    -------
    ExceedanceResult
        ``value`` is dimensionless and at most 1 where the limit is met; from the first time at the
        governing level to the last.

    Raises
    ------
    SignalError
        Fewer than two samples, or one that is not finite.

    Notes
    -----
    :math:`T` as in :func:`exceedance_curve`. Between sample values and the corners of the limit both are
    straight lines, whose ratio is largest at an end: the result is exact.

    References
    ----------
    .. [1] ECE R94 5.2.1.2 and 5.2.1.6, figures 1 to 3; SAE J1727; both from memory. The ratio: derived here.

    Examples
    --------
    >>> limit = DurationLimit(durations_s=(0.0, 0.01), levels=(100.0, 50.0))
    >>> found = exceedance([60.0] * 11, step_s=0.001, limit=limit)
    >>> found.value, found.level, round(found.duration_s, 9), found.limit
    (1.2, 60.0, 0.01, 50.0)
    """
    (curve,) = checked_curves(step_s, values=values)
    held = exceedance_curve(curve, step_s=step_s)
    if not (curve > 0).any():
        return ExceedanceResult(
            value=0.0, start_s=0.0, end_s=0.0, level=0.0, duration_s=0.0, limit=limit.levels[0]
        )
    corners = np.asarray(limit.durations_s)
    reached = corners[(corners > held.durations_s[0]) & (corners < held.durations_s[-1])]
    durations = np.concatenate([held.durations_s, reached])
    levels = np.concatenate([held.levels, np.interp(reached, held.durations_s, held.levels)])
    ratios = levels / limit.at(durations)
    worst = int(np.argmax(ratios))
    above = np.flatnonzero(curve >= levels[worst] - _FLAT * float(np.ptp(curve)))
    return ExceedanceResult(
        value=float(ratios[worst]),
        start_s=float(above[0] * step_s),
        end_s=float(above[-1] * step_s),
        level=float(levels[worst]),
        duration_s=float(durations[worst]),
        limit=float(limit.at(durations[worst : worst + 1])[0]),
    )


def _sloping_and_level(curve: Floats) -> tuple[Floats, Floats, Floats]:
    """Return lower and upper ends of the intervals that slope, and the height of those that are level."""
    low, high = np.minimum(curve[:-1], curve[1:]), np.maximum(curve[:-1], curve[1:])
    level = high - low <= _FLAT * float(np.ptp(curve))
    return low[~level], high[~level], np.sort(high[level])


def _reached(ends: Floats, slopes: Floats, levels: Floats) -> Floats:
    """Return the sum of slope times (end - level) over the ends above each level."""
    order = np.argsort(ends)[::-1]
    steepness = np.concatenate([[0.0], np.cumsum(slopes[order])])
    weighted = np.concatenate([[0.0], np.cumsum((slopes * ends)[order])])
    above = ends.size - np.searchsorted(ends[order][::-1], levels, side="left")
    return np.asarray(weighted[above] - levels * steepness[above], dtype=np.float64)
