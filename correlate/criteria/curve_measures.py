"""What is measured on a single curve: peaks, clips, windows of time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.criteria.result import CriterionResult, at_instant, checked_curves, checked_positive
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


def peak(values: ArrayLike, *, step_s: float) -> CriterionResult:
    """Return the sample of largest absolute value, with its sign.

    Parameters
    ----------
    values
        Shape ``(n,)``, any unit.
    step_s
        Sampling interval, s.

    Returns
    -------
    CriterionResult
        ``value`` in the unit of `values`; both times are that of the sample, the first of equal ones.

    Raises
    ------
    SignalError
        Fewer than two samples, or one that is not finite.

    References
    ----------
    .. [1] No formula.

    Examples
    --------
    >>> peak([0.0, 3.0, -8.0, 1.0], step_s=0.1)
    CriterionResult(value=-8.0, start_s=0.2, end_s=0.2)
    """
    (curve,) = checked_curves(step_s, values=values)
    index = int(np.argmax(np.abs(curve)))
    return at_instant(curve[index], index, step_s)


def first_decay(values: ArrayLike, *, step_s: float, level: float) -> CriterionResult:
    """Return when a curve first falls to a level after its largest value.

    Parameters
    ----------
    values
        Shape ``(n,)``, any unit.
    step_s
        Sampling interval, s.
    level
        In the unit of `values`, below the largest value.

    Returns
    -------
    CriterionResult
        ``value`` is the level; ``start_s`` is the time of the largest value, ``end_s`` that of the decay, on
        a straight line between samples.

    Raises
    ------
    SignalError
        The curve is nowhere above the level, or stays above it to its end.

    References
    ----------
    .. [1] 49 CFR 572.33, "decay for the first time to 0", from memory.

    Examples
    --------
    >>> first_decay([0.0, 8.0, 6.0, -2.0], step_s=0.01, level=0.0).end_s
    0.0275
    """
    (curve,) = checked_curves(step_s, values=values)
    top = int(np.argmax(curve))
    if curve[top] <= level:
        raise SignalError(f"the largest value {curve[top]:.6g} is not above {level:.6g}")
    low = np.flatnonzero(curve[top:] <= level)
    if not low.size:
        raise SignalError(
            f"after its peak the curve stays above {level:.6g} to the end of the data",
            remedy="give a longer recording",
        )
    after = top + int(low[0])
    share = float((curve[after - 1] - level) / (curve[after - 1] - curve[after]))
    step = float(step_s)
    return CriterionResult(value=float(level), start_s=top * step, end_s=(after - 1 + share) * step)


def internal_hysteresis(
    force: ArrayLike,
    deflection: ArrayLike,
    *,
    step_s: float,
) -> CriterionResult:
    r"""Return the share of the work of loading that a force–deflection loop does not give back.

    .. math:: H = 1 - \frac{\int_\mathrm{unloading} F\,|dD|}{\int_\mathrm{loading} F\,dD}

    Parameters
    ----------
    force, deflection
        Shape ``(n,)``, both positive in loading, any units.
    step_s
        Sampling interval, s.

    Returns
    -------
    CriterionResult
        ``value`` in [0, 1] for a loop that dissipates; ``start_s`` is the time of the largest deflection,
        ``end_s`` the end of unloading.

    Raises
    ------
    SignalError
        Unequal lengths, or no work is done on loading.

    Notes
    -----
    Loading ends at the largest deflection. Unloading ends where the force first falls to zero or, once half
    of the deflection is gone, where it grows again, whichever comes first (choice made here: the text speaks
    of the plot alone).

    References
    ----------
    .. [1] 49 CFR 572.134(b)(2) and 572.34: area between loading and unloading over the area under
       loading.

    Examples
    --------
    >>> force, deflection = [0.0, 2.0, 4.0, 1.0, 0.0], [0.0, 1.0, 2.0, 1.0, 0.0]
    >>> internal_hysteresis(force, deflection, step_s=1e-3).value
    0.25
    """
    push, path = checked_curves(step_s, force=force, deflection=deflection)
    turn = int(np.argmax(path))
    loading = _work(push[: turn + 1], path[: turn + 1])
    if loading <= 0:
        raise SignalError(
            "no work is done up to the largest deflection", remedy="check sign and order of the two channels"
        )
    stop = _unloading_end(push, path, turn)
    returned = -_work(push[turn : stop + 1], path[turn : stop + 1])
    step = float(step_s)
    return CriterionResult(value=1.0 - returned / loading, start_s=turn * step, end_s=stop * step)


def oscillation_after_peak(values: ArrayLike, *, step_s: float) -> CriterionResult:
    r"""Return the largest rise after the peak of a pulse as a share of the peak.

    .. math:: \frac{1}{x_p} \max_{p \le i \le j} (x_j - x_i)

    For a pulse that falls to zero and rings, this is the height of the ringing, zero to peak.

    Parameters
    ----------
    values
        Shape ``(n,)``, a resultant or another curve whose pulse is positive.
    step_s
        Sampling interval, s.

    Returns
    -------
    CriterionResult
        ``value`` is 0 or more; from the foot of the rise to its top.

    Raises
    ------
    SignalError
        The curve is nowhere above zero.

    References
    ----------
    .. [1] 49 CFR 572.32(b): oscillations after the main pulse, zero to peak, over the main pulse. That the
       main pulse ends at the foot of the largest later rise: choice made here.

    Examples
    --------
    >>> oscillation_after_peak([0, 100, 40, 2, 12, 3], step_s=1e-3)
    CriterionResult(value=0.1, start_s=0.003, end_s=0.004)
    """
    curve, top = _pulse(values, step_s)
    rise, foot, crest = _largest_rise(curve[top:])
    step = float(step_s)
    return CriterionResult(
        value=rise / float(curve[top]), start_s=(top + foot) * step, end_s=(top + crest) * step
    )


def unimodality(values: ArrayLike, *, step_s: float) -> CriterionResult:
    """Return by how much a pulse fails to rise to one peak and fall from it.

    Parameters
    ----------
    values
        Shape ``(n,)``, a resultant or another curve whose pulse is positive.
    step_s
        Sampling interval, s.

    Returns
    -------
    CriterionResult
        ``value``: the largest fall before the peak or rise after it, as a share of the peak; 0 for one
        clean peak. From the begin of that fall or rise to its end.

    Raises
    ------
    SignalError
        The curve is nowhere above zero.

    References
    ----------
    .. [1] "Unimodal to the extent that" after 49 CFR 572.32(b); this number for it is a choice made here.

    Examples
    --------
    >>> unimodality([0, 60, 40, 100, 10], step_s=1e-3).value
    0.2
    """
    curve, top = _pulse(values, step_s)
    after = oscillation_after_peak(curve, step_s=step_s)
    fall, foot, crest = _largest_rise(curve[top::-1])
    share = fall / float(curve[top])
    if share <= after.value:
        return after
    step = float(step_s)
    return CriterionResult(value=share, start_s=(top - crest) * step, end_s=(top - foot) * step)


def peak_while(values: ArrayLike, holds: NDArray[np.bool_], *, step_s: float) -> CriterionResult:
    """Return the largest value among the samples at which a condition holds.

    Parameters
    ----------
    values
        Shape ``(n,)``, any unit.
    holds
        Shape ``(n,)``: whether a sample counts.
    step_s
        Sampling interval, s.

    Returns
    -------
    CriterionResult
        At its instant.

    Raises
    ------
    SignalError
        The condition never holds.

    Examples
    --------
    >>> import numpy as np
    >>> peak_while([1.0, 9.0, 4.0], np.array([True, False, True]), step_s=0.5)
    CriterionResult(value=4.0, start_s=1.0, end_s=1.0)
    """
    (curve,) = checked_curves(step_s, values=values)
    if not holds.any():
        raise SignalError("no sample lies where the peak is asked for")
    index = int(np.argmax(np.where(holds, curve, -np.inf)))
    return at_instant(curve[index], index, step_s)


def _pulse(values: ArrayLike, step_s: float) -> tuple[Floats, int]:
    (curve,) = checked_curves(step_s, values=values)
    top = int(np.argmax(curve))
    if curve[top] <= 0:
        raise SignalError("the curve is nowhere above zero", remedy="check its sign")
    return curve, top


def _largest_rise(curve: Floats) -> tuple[float, int, int]:
    """Return the largest rise from any sample to a later one, and both samples."""
    crest = int(np.argmax(curve - np.minimum.accumulate(curve)))
    foot = int(np.argmin(curve[: crest + 1]))
    return float(curve[crest] - curve[foot]), foot, crest


def _unloading_end(push: Floats, path: Floats, turn: int) -> int:
    """Return the last sample of the unloading that begins at ``turn``."""
    growing = np.append(np.diff(path[turn:]) > 0, True)
    # Noise makes a flat top grow now and then: unloading has begun once half of the deflection is gone.
    growing &= path[turn:] < 0.5 * path[turn]
    ended = growing | (push[turn:] <= 0)
    return min(turn + int(np.argmax(ended)), path.size - 1) if ended.any() else path.size - 1


def _work(push: Floats, path: Floats) -> float:
    return float(np.sum(0.5 * (push[1:] + push[:-1]) * np.diff(path)))
