"""Values of a single curve: peaks, decays, loops, intervals of time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from correlate.criteria.result import CriterionResult, at_instant, checked_curves
from correlate.errors import SignalError

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


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


def largest(values: ArrayLike, *, step_s: float) -> CriterionResult:
    """Return the largest value of a curve that counts in one direction only.

    Parameters
    ----------
    values
        Positive in the direction that counts, such as compression, shape ``(n,)``, any unit.
    step_s
        Sampling interval, s.

    Returns
    -------
    CriterionResult
        ``value`` in the unit of `values`, at its instant; 0 where the curve is never above zero.

    Raises
    ------
    SignalError
        Fewer than two samples, or one that is not finite.

    References
    ----------
    .. [1] No formula.

    Examples
    --------
    >>> largest([0.0, 3.0, -8.0], step_s=0.1)
    CriterionResult(value=3.0, start_s=0.1, end_s=0.1)
    """
    (curve,) = checked_curves(step_s, values=values)
    index = int(np.argmax(curve))
    return at_instant(max(0.0, float(curve[index])), index, step_s)


def largest_sum(*forces: ArrayLike, step_s: float) -> CriterionResult:
    r"""Return the largest absolute value of a sum of curves, added instant by instant.

    .. math:: \max_t \left| \sum_k F_k(t) \right|

    Parameters
    ----------
    *forces
        One or more, each of shape ``(n,)``, one unit and one polarity.
    step_s
        Sampling interval, s.

    Returns
    -------
    CriterionResult
        ``value`` in the unit of the curves, 0 or more, at its instant.

    Raises
    ------
    SignalError
        Unequal lengths, fewer than two samples, or one that is not finite.

    References
    ----------
    .. [1] 49 CFR 571.214 S7.2.5(c)(1) and S7.2.6(c), "the sum of"; 572.186(c)(1), "concurrent in time".

    Examples
    --------
    >>> largest_sum([0.0, 900.0, 100.0], [0.0, 300.0, 1300.0], step_s=0.1)
    CriterionResult(value=1400.0, start_s=0.2, end_s=0.2)
    """
    curves = checked_curves(step_s, **{f"curve {number}": one for number, one in enumerate(forces, 1)})
    total = np.abs(np.sum(curves, axis=0))
    index = int(np.argmax(total))
    return at_instant(total[index], index, step_s)


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
