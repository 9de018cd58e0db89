"""Recipes, and how they make an aligned pair of two signals."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Protocol

import numpy as np

from correlate.conditioning.filters import filter_cfc, frequency_class
from correlate.conditioning.offset import remove_offset
from correlate.conditioning.resampling import resample
from correlate.conditioning.time_axis import (
    OnTimeBase,
    check_interval,
    crop,
    multiples_between,
    samples_between,
    shift_time,
)
from correlate.display import short_repr
from correlate.errors import SettingsError, ShortDataError, SignalError, UnitError
from correlate.pair import AlignedPair
from correlate.remembered import Remembered
from correlate.samples import handed_over
from correlate.signal import Step
from correlate.units import parse_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.signal import Signal


SIGN_STEP: Final = "turn sign"
"""Name of the step in the history of a signal whose sign was turned."""


def turn_sign(signal: Signal) -> Signal:
    """Multiply by −1, for a channel whose polarity differs from its counterpart's.

    Parameters
    ----------
    signal
        Any signal.

    Returns
    -------
    Signal
        Its history gains ``"turn sign"``.

    References
    ----------
    .. [1] Polarities: SAE J1733, from memory; the page on conditioning lists those relied on.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> deflection = Signal(samples=[0, -40], start_s=0, step_s=1e-4, unit="mm", channel="sternum")
    >>> turn_sign(deflection).samples
    array([ 0., 40.])
    """
    # Subtracting from zero, because negating would leave a zero that prints as -0.
    return signal.then(Step(SIGN_STEP), samples=handed_over(0.0 - signal.samples))


DEFAULT_STEP_S: Final = 1e-4
"""Grid on which two curves are compared, s (ISO/TS 18571: 10 kHz)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Treatment:
    """What is done to one signal.

    Attributes
    ----------
    unit
        Unit to convert to.
    sign
        1, or −1 to turn the sign.
    offset_window_s
        Window over which the offset is measured, on the time axis as recorded, s; None leaves the offset.
    shift_s
        Added to every time, s.
    cfc
        Channel frequency class, or None for no filter.
    step_s
        Time step of the grid, s.
    """

    unit: str
    sign: int
    offset_window_s: tuple[float, float] | None
    shift_s: float
    cfc: int | None
    step_s: float


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """How two signals are brought onto one grid.

    What makes two curves comparable (unit, filter, grid, interval) is set once for both. What belongs to one
    recording (polarity, offset, time shift) is set for each: a test has an offset before its trigger, a
    model usually starts at the impact and has none.

    Attributes
    ----------
    cfc
        Channel frequency class of both, or None for no filter.
    start_s, end_s
        Interval of the comparison, s, after the time shifts; None: as far as both reach.
    step_s
        Time step of the grid, s; its times are whole multiples of it.
    unit
        Unit of the comparison; None: that of the reference.
    reference_offset_window_s, candidate_offset_window_s
        Windows over which the offsets are measured, on the time axis as recorded, s; None leaves the offset.
    reference_sign, candidate_sign
        1, or −1 to turn the sign.
    reference_shift_s, candidate_shift_s
        Added to every time, s.

    Raises
    ------
    SettingsError
        A setting is outside what it may be.
    UnitError
        The unit cannot be parsed.

    Examples
    --------
    >>> Recipe(cfc=180, start_s=0.0, end_s=0.06, candidate_sign=-1).step_s
    0.0001
    """

    cfc: int | None = None
    start_s: float | None = None
    end_s: float | None = None
    step_s: float = DEFAULT_STEP_S
    unit: str | None = None
    reference_offset_window_s: tuple[float, float] | None = None
    candidate_offset_window_s: tuple[float, float] | None = None
    reference_sign: int = 1
    candidate_sign: int = 1
    reference_shift_s: float = 0.0
    candidate_shift_s: float = 0.0

    def __post_init__(self) -> None:
        """Refuse settings that no pair of signals could be conditioned with."""
        if self.cfc is not None:
            frequency_class(self.cfc)
        if self.unit is not None:
            parse_unit(self.unit)
        if not (math.isfinite(self.step_s) and self.step_s > 0):
            raise SettingsError(f"step_s is {self.step_s!r}", remedy="give a number of seconds above zero")
        self._check_interval()
        self._check_side(
            "reference", self.reference_offset_window_s, self.reference_sign, self.reference_shift_s
        )
        self._check_side(
            "candidate", self.candidate_offset_window_s, self.candidate_sign, self.candidate_shift_s
        )

    def for_reference(self, unit: str) -> Treatment:
        """Return what is done to the reference.

        Parameters
        ----------
        unit
            Unit of the comparison where the recipe leaves it open.

        Returns
        -------
        Treatment
        """
        return Treatment(
            unit=self.unit or unit,
            sign=self.reference_sign,
            offset_window_s=self.reference_offset_window_s,
            shift_s=self.reference_shift_s,
            cfc=self.cfc,
            step_s=self.step_s,
        )

    def for_candidate(self, unit: str) -> Treatment:
        """Return what is done to the candidate.

        Parameters
        ----------
        unit
            Unit of the comparison where the recipe leaves it open.

        Returns
        -------
        Treatment
        """
        return Treatment(
            unit=self.unit or unit,
            sign=self.candidate_sign,
            offset_window_s=self.candidate_offset_window_s,
            shift_s=self.candidate_shift_s,
            cfc=self.cfc,
            step_s=self.step_s,
        )

    def _check_interval(self) -> None:
        for name, value in (("start_s", self.start_s), ("end_s", self.end_s)):
            if value is not None and not math.isfinite(value):
                raise SettingsError(f"{name} is {value}", remedy="give a finite number of seconds")
        if self.start_s is not None and self.end_s is not None:
            check_interval(self.start_s, self.end_s)

    @staticmethod
    def _check_side(side: str, window: tuple[float, float] | None, sign: int, shift_s: float) -> None:
        if window is not None:
            if len(window) != 2:
                raise SettingsError(
                    f"{side}_offset_window_s has {len(window)} numbers",
                    remedy="give its start and its end, in s",
                )
            check_interval(*window)
        if sign not in {1, -1}:
            raise SettingsError(f"{side}_sign is {sign!r}", remedy="give 1, or -1 to turn the sign")
        if not math.isfinite(shift_s):
            raise SettingsError(f"{side}_shift_s is {shift_s}", remedy="give a finite number of seconds")


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


class Sampled(OnTimeBase, Protocol):
    """Samples on a constant time step.

    Attributes
    ----------
    samples
        Shape ``(n,)``, finite and read-only.
    """

    @property
    def samples(self) -> NDArray[np.float64]:
        """Shape ``(n,)``, finite and read-only."""


def cut_pair(reference: Sampled, candidate: Sampled, recipe: Recipe) -> AlignedPair:
    """Return the pair alone, for callers that rate one signal against many.

    Parameters
    ----------
    reference, candidate, recipe
        As in :func:`pair_conditioned`; curves without a history are accepted.

    Returns
    -------
    AlignedPair

    Raises
    ------
    SignalError
        As :func:`align`.
    """
    interval = recipe.start_s, recipe.end_s, recipe.step_s
    bases = (_base(reference), _base(candidate), interval)
    cut = _CUTS.get(bases)
    if cut is None:
        cut = _cut(reference, candidate, interval)
        _CUTS.put(bases, cut)
    time, of_reference, of_candidate = cut
    return AlignedPair.of_frozen(
        time=time, reference=reference.samples[of_reference], candidate=candidate.samples[of_candidate]
    )


Interval = tuple[float | None, float | None, float]
"""Start and end, s (None: as far as both curves reach), and time step, s."""
Cut = tuple["NDArray[np.float64]", slice, slice]
"""Times of a comparison, and which samples of reference and candidate belong to them."""

_CUTS: Final = Remembered[Cut](64)
"""By time bases and interval; all pairs with the same cut share one array of times."""


def _base(signal: OnTimeBase) -> tuple[float, float, int]:
    """Return start and step, s, and number of samples."""
    return signal.start_s, signal.step_s, len(signal)


def _cut(reference: OnTimeBase, candidate: OnTimeBase, interval: Interval) -> Cut:
    first, last = _common_grid(reference, candidate, interval)
    step_s = interval[2]
    time = handed_over(np.asarray(step_s * np.arange(first, last + 1), dtype=np.float64))
    start_s, end_s = float(time[0]), float(time[-1])
    return (
        time,
        samples_between(reference, start_s=start_s, end_s=end_s),
        samples_between(candidate, start_s=start_s, end_s=end_s),
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


def _common_grid(reference: OnTimeBase, candidate: OnTimeBase, interval: Interval) -> tuple[int, int]:
    """Return the first and last multiple of the step that the comparison runs over."""
    asked_start_s, asked_end_s, step_s = interval
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
    first_shared, last_shared = multiples_between(start_s, end_s, step_s)
    wanted_start_s = start_s if asked_start_s is None else asked_start_s
    wanted_end_s = end_s if asked_end_s is None else asked_end_s
    first, last = multiples_between(wanted_start_s, wanted_end_s, step_s)
    if first < first_shared or last > last_shared:
        kind = ShortDataError if last > last_shared else SignalError
        error = kind(
            f"the interval {wanted_start_s:.6g} s to {wanted_end_s:.6g} s reaches beyond the data",
            where=where,
            remedy=f"choose one within {start_s:.6g} s to {end_s:.6g} s, which both cover",
        )
        if isinstance(error, ShortDataError):
            error.is_model = candidate.end_s <= reference.end_s
            error.until_s, error.end_s = end_s, wanted_end_s
        raise error
    if last - first + 1 < LEAST_SAMPLES:
        raise SignalError(
            f"{wanted_start_s:.6g} s to {wanted_end_s:.6g} s hold {max(last - first + 1, 0)} common samples, "
            f"fewer than {LEAST_SAMPLES}",
            where=where,
            remedy="choose a longer interval or a smaller time step",
        )
    return first, last
