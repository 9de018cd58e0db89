"""Clips: the highest level that a curve holds for a time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.criteria.result import CriterionResult, checked_curves, checked_positive
from correlate.errors import SignalError

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]

    Indices = NDArray[np.intp]


CLIP_S: Final = 0.003
"""Duration of the customary clip, s."""
_ROUNDING: Final = 1e-12


def cumulative_clip(
    acceleration_g: ArrayLike, *, step_s: float, duration_s: float = CLIP_S
) -> CriterionResult:
    """Return the highest level that the curve is at or above for 3 ms in total.

    Parameters
    ----------
    acceleration_g
        Resultant acceleration, shape ``(n,)``, g.
    step_s
        Sampling interval, s.
    duration_s
        Time in total, s.

    Returns
    -------
    CriterionResult
        ``value`` in g; from the first time at the level to the last.

    Raises
    ------
    SignalError
        The curve is shorter than the duration, or a sample is not finite.

    References
    ----------
    .. [1] SAE J1727, "3 ms cumulative", from memory; ECE R94 annex 4. Straight lines between samples: choice
       made here, as the texts leave it open.

    Examples
    --------
    >>> triangle = [0.0, 30.0, 60.0, 30.0, 0.0]
    >>> cumulative_clip(triangle, step_s=0.003).value
    45.0
    """
    curve = _long_enough(acceleration_g, step_s, duration_s)
    need = duration_s / step_s
    level = _highest(curve, need, lambda level: float(_shares(curve, level).sum()), _total_solved)
    starts, ends = _stretches(curve, _just_below(level, curve))
    return CriterionResult(value=level, start_s=float(starts[0] * step_s), end_s=float(ends[-1] * step_s))


def contiguous_clip(
    acceleration_g: ArrayLike, *, step_s: float, duration_s: float = CLIP_S
) -> CriterionResult:
    """Return the highest level that the curve is at or above for 3 ms in one stretch.

    Parameters
    ----------
    acceleration_g
        Resultant acceleration, shape ``(n,)``, g.
    step_s
        Sampling interval, s.
    duration_s
        Length of the stretch, s.

    Returns
    -------
    CriterionResult
        ``value`` in g, never above that of :func:`cumulative_clip`; begin and end of the stretch.

    Raises
    ------
    SignalError
        The curve is shorter than the duration, or a sample is not finite.

    References
    ----------
    .. [1] SAE J1727, "3 ms continuous", from memory. Straight lines between samples: choice made here.

    Examples
    --------
    >>> two_peaks = [0.0, 60.0, 0.0, 60.0, 0.0]
    >>> contiguous_clip(two_peaks, step_s=0.003).value, cumulative_clip(two_peaks, step_s=0.003).value
    (30.0, 45.0)
    """
    curve = _long_enough(acceleration_g, step_s, duration_s)
    need = duration_s / step_s
    level = _highest(curve, need, lambda level: _longest(curve, level), _longest_solved)
    starts, ends = _stretches(curve, _just_below(level, curve))
    longest = int(np.argmax(ends - starts))
    return CriterionResult(
        value=level, start_s=float(starts[longest] * step_s), end_s=float(ends[longest] * step_s)
    )


def _long_enough(acceleration_g: ArrayLike, step_s: float, duration_s: float) -> Floats:
    (curve,) = checked_curves(step_s, acceleration_g=acceleration_g)
    checked_positive("duration_s", duration_s)
    length_s = (curve.size - 1) * step_s
    if length_s < duration_s * (1 - 1e-9):
        raise SignalError(
            f"the curve lasts {length_s:.6g} s, and the clip needs {duration_s:.6g} s",
            where="acceleration_g",
            remedy="give a longer interval",
        )
    return curve


def _shares(curve: Floats, level: float) -> Floats:
    """Return the share of every interval between samples that is at or above a level."""
    low, high = np.minimum(curve[:-1], curve[1:]), np.maximum(curve[:-1], curve[1:])
    rise = np.where(high > low, high - low, 1.0)
    return np.where(low >= level, 1.0, np.clip((high - level) / rise, 0.0, 1.0) * (high >= level))


def _runs(curve: Floats, level: float) -> tuple[Indices, Indices]:
    """Return the first and the last sample of every run at or above a level."""
    above = np.concatenate([[False], curve >= level, [False]])
    return np.flatnonzero(above[1:] & ~above[:-1]), np.flatnonzero(above[:-1] & ~above[1:]) - 1


def _stretches(curve: Floats, level: float) -> tuple[Floats, Floats]:
    """Return begin and end, in samples, of every stretch at or above a level."""
    first, last = _runs(curve, level)
    starts, ends = first.astype(np.float64), last.astype(np.float64)
    rising, falling = first > 0, last < curve.size - 1
    after, before = curve[first[rising]], curve[first[rising] - 1]
    starts[rising] -= (after - level) / (after - before)
    inside, outside = curve[last[falling]], curve[last[falling] + 1]
    ends[falling] += (inside - level) / (inside - outside)
    return starts, ends


def _just_below(level: float, curve: Floats) -> float:
    """Return a level by rounding lower, at which the stretch that was solved for is surely found."""
    return level - _ROUNDING * float(np.ptp(curve))


def _longest(curve: Floats, level: float) -> float:
    starts, ends = _stretches(curve, level)
    return float((ends - starts).max())


def _highest(
    curve: Floats,
    need: float,
    held: Callable[[float], float],
    solved: Callable[[Floats, float, float, float], float],
) -> float:
    """Return the highest level held for ``need`` samples: halve over the sample values, then solve."""
    levels = np.unique(curve)
    low, high = 0, levels.size
    enough = need * (1 - 1e-12)
    while high - low > 1:
        middle = (low + high) // 2
        low, high = (middle, high) if held(float(levels[middle])) >= enough else (low, middle)
    floor = float(levels[low])
    if high == levels.size:
        return floor
    return solved(curve, floor, float(levels[high]), need)


def _total_solved(curve: Floats, floor: float, ceiling: float, need: float) -> float:
    """Solve between two neighbouring sample values, where the total falls along a straight line."""
    middle = 0.5 * (floor + ceiling)
    low, high = np.minimum(curve[:-1], curve[1:]), np.maximum(curve[:-1], curve[1:])
    crossing = (low <= floor) & (high >= ceiling)
    fall = float((1.0 / (high[crossing] - low[crossing])).sum())
    total = float(_shares(curve, middle).sum())
    return float(np.clip(middle + (total - need) / fall, floor, ceiling))


def _longest_solved(curve: Floats, floor: float, ceiling: float, need: float) -> float:
    """Solve between two neighbouring sample values, where every stretch shrinks along a straight line."""
    middle = 0.5 * (floor + ceiling)
    first, last = _runs(curve, middle)
    starts, ends = _stretches(curve, middle)
    rising, falling = first > 0, last < curve.size - 1
    fall = np.zeros(starts.size)
    fall[rising] += 1.0 / (curve[first[rising]] - curve[first[rising] - 1])
    fall[falling] += 1.0 / (curve[last[falling]] - curve[last[falling] + 1])
    # A stretch from end to end of the curve is no shorter at a higher level.
    shrinks = fall > 0
    levels = np.where(ends - starts >= need, ceiling, floor)
    levels[shrinks] = middle + (ends - starts - need)[shrinks] / fall[shrinks]
    return float(np.clip(levels.max(), floor, ceiling))
