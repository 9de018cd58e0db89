"""From two signals as recorded to one pair on one grid."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning.cfc import filter_cfc
from correlate.conditioning.crop import crop
from correlate.conditioning.interval import multiples_between, samples_between
from correlate.conditioning.offset import remove_offset
from correlate.conditioning.recipe import Recipe
from correlate.conditioning.resample import resample
from correlate.conditioning.sign import turn_sign
from correlate.conditioning.time_zero import shift_time
from correlate.display import short_repr
from correlate.errors import SignalError, UnitError
from correlate.pair import AlignedPair

if TYPE_CHECKING:
    from correlate.conditioning.recipe import Treatment
    from correlate.signal import Signal

LEAST_SAMPLES: Final = 20
"""Fewest samples that two curves are compared on (ISO/TS 18571)."""
AS_RECORDED: Final = Recipe()
"""No filter, all of the common time, 0.1 ms."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class AlignedSignals:
    """A pair together with the two conditioned signals it was made from.

    Attributes
    ----------
    pair
        The two curves on one grid.
    reference, candidate
        The same curves as signals: their histories list every step.
    """

    pair: AlignedPair
    reference: Signal
    candidate: Signal

    @property
    def unit(self) -> str:
        """Unit of both curves."""
        return self.reference.unit


def align(reference: Signal, candidate: Signal, recipe: Recipe = AS_RECORDED) -> AlignedPair:
    """Condition two signals alike and bring them onto one grid.

    Parameters
    ----------
    reference
        The test.
    candidate
        The model, or another repeat.
    recipe
        How.

    Returns
    -------
    AlignedPair
        Its times are whole multiples of the recipe's step.

    Raises
    ------
    UnitError
        The signals measure different things.
    SignalError
        The signals do not overlap, do not cover the interval asked for, share fewer than 20 samples, or one
        of them does not allow a step of the recipe.

    References
    ----------
    .. [1] ISO/TS 18571:2014, preparation of the signals, from memory: one filter class, one grid of
       0.1 ms, one interval.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> test = Signal(samples=[9.80665] * 41, start_s=0, step_s=1e-4, unit="m/s^2", channel="head ax")
    >>> model = Signal(samples=[1.0] * 401, start_s=0, step_s=1e-5, unit="g", channel="head ax")
    >>> pair = align(test, model, Recipe(unit="g"))
    >>> len(pair), round(float(abs(pair.reference - pair.candidate).max()), 12)
    (41, 0.0)
    """
    return align_signals(reference, candidate, recipe).pair


def align_signals(reference: Signal, candidate: Signal, recipe: Recipe = AS_RECORDED) -> AlignedSignals:
    """Condition two signals alike and return them beside their pair.

    Parameters
    ----------
    reference, candidate, recipe
        As in :func:`align`.

    Returns
    -------
    AlignedSignals

    Raises
    ------
    UnitError, SignalError
        As :func:`align`.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> curve = Signal(samples=[1.0] * 401, start_s=0, step_s=1e-4, unit="g", channel="head ax")
    >>> aligned = align_signals(curve, curve, Recipe(cfc=1000, start_s=0.0, end_s=0.03))
    >>> [step.name for step in aligned.candidate.history]
    ['filter', 'crop']
    """
    unit = recipe.unit or reference.unit
    treated_reference = condition(reference, recipe.for_reference(unit))
    treated_candidate = condition(candidate, recipe.for_candidate(unit))
    return pair_conditioned(treated_reference, treated_candidate, recipe)


def pair_conditioned(reference: Signal, candidate: Signal, recipe: Recipe) -> AlignedSignals:
    """Cut two signals that are conditioned already to the interval, and pair them.

    For callers that compare one signal with many: it needs conditioning only once. Those who need no history
    take :func:`cut_pair`.

    Parameters
    ----------
    reference, candidate
        From :func:`condition`, one unit, one time step.
    recipe
        The one they were conditioned by; its interval is used.

    Returns
    -------
    AlignedSignals

    Raises
    ------
    SignalError
        As :func:`align`.
    """
    pair = cut_pair(reference, candidate, recipe)
    start_s, end_s = float(pair.time[0]), float(pair.time[-1])
    return AlignedSignals(
        pair=pair,
        reference=crop(reference, start_s=start_s, end_s=end_s),
        candidate=crop(candidate, start_s=start_s, end_s=end_s),
    )


def cut_pair(reference: Signal, candidate: Signal, recipe: Recipe) -> AlignedPair:
    """Return the pair alone, for callers that rate one signal against many.

    Parameters
    ----------
    reference, candidate, recipe
        As in :func:`pair_conditioned`.

    Returns
    -------
    AlignedPair

    Raises
    ------
    SignalError
        As :func:`align`.
    """
    first, last = _common_grid(reference, candidate, recipe)
    time = recipe.step_s * np.arange(first, last + 1)
    time.flags.writeable = False
    start_s, end_s = float(time[0]), float(time[-1])
    return AlignedPair(
        time=time,
        reference=reference.samples[samples_between(reference, start_s=start_s, end_s=end_s)],
        candidate=candidate.samples[samples_between(candidate, start_s=start_s, end_s=end_s)],
    )


def condition(signal: Signal, treatment: Treatment) -> Signal:
    """Run the steps of one side of a recipe in their fixed order.

    Unit, sign, offset, time shift, filter at the rate as recorded, resampling. A step that has nothing to
    do leaves no trace in the history.

    Parameters
    ----------
    signal
        As recorded.
    treatment
        From :meth:`Recipe.for_reference` or :meth:`Recipe.for_candidate`.

    Returns
    -------
    Signal
        On the grid of the treatment, as long as the data reach.

    Raises
    ------
    UnitError
        The unit does not suit the signal.
    SignalError
        The signal does not allow a step.

    References
    ----------
    .. [1] Filter before resampling: common practice, no source.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> raw = Signal(samples=[1.0] * 50, start_s=0, step_s=5e-5, unit="g", channel="head ax")
    >>> treated = condition(raw, Recipe(cfc=1000, candidate_sign=-1).for_candidate("m/s^2"))
    >>> [step.name for step in treated.history]
    ['convert unit', 'turn sign', 'filter', 'resample']
    """
    try:
        treated = signal.in_unit(treatment.unit)
    except UnitError as error:
        raise error.located(signal.place) from None
    if treatment.sign == -1:
        treated = turn_sign(treated)
    if treatment.offset_window_s is not None:
        start_s, end_s = treatment.offset_window_s
        treated = remove_offset(treated, start_s=start_s, end_s=end_s)
    treated = shift_time(treated, treatment.shift_s)
    if treatment.cfc is not None:
        treated = filter_cfc(treated, treatment.cfc)
    return resample(treated, step_s=treatment.step_s)


def _common_grid(reference: Signal, candidate: Signal, recipe: Recipe) -> tuple[int, int]:
    """Return the first and last multiple of the step that the comparison runs over."""
    where = f"{reference.place} and {candidate.place}"
    start_s = max(reference.start_s, candidate.start_s)
    end_s = min(reference.end_s, candidate.end_s)
    if end_s <= start_s:
        raise SignalError(
            f"the first runs from {reference.start_s:.6g} s to {reference.end_s:.6g} s, "
            f"the second from {candidate.start_s:.6g} s to {candidate.end_s:.6g} s, without overlap",
            where=where,
            remedy="correct the time zero of one of them",
        )
    first_shared, last_shared = multiples_between(start_s, end_s, recipe.step_s)
    wanted_start_s = start_s if recipe.start_s is None else recipe.start_s
    wanted_end_s = end_s if recipe.end_s is None else recipe.end_s
    first, last = multiples_between(wanted_start_s, wanted_end_s, recipe.step_s)
    if first < first_shared or last > last_shared:
        raise SignalError(
            f"the interval {wanted_start_s:.6g} s to {wanted_end_s:.6g} s reaches beyond the data",
            where=where,
            remedy=f"choose one within {start_s:.6g} s to {end_s:.6g} s, which both cover",
        )
    if last - first + 1 < LEAST_SAMPLES:
        raise SignalError(
            f"{wanted_start_s:.6g} s to {wanted_end_s:.6g} s hold {max(last - first + 1, 0)} common samples, "
            f"fewer than {LEAST_SAMPLES}",
            where=where,
            remedy="choose a longer interval or a smaller time step",
        )
    return first, last
