"""The features of a pair, and what each correction would change."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, fields
from functools import partial
from itertools import pairwise
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.diagnosis.features.areas import (
    Tail,
    area_between,
    impulse,
    loop_loss,
    ringing_tail,
    share_before_peak,
)
from correlate.diagnosis.features.pulse import (
    LOW_LEVEL,
    CurvePeak,
    Pulse,
    curve_peaks,
    fall_rate,
    falling_through,
    half_duration,
    onset_time,
    pulse_of,
    rebound,
    rise_rate,
    rising_through,
)
from correlate.display import short_repr
from correlate.errors import SignalError
from correlate.pair import AlignedPair

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


_FAR_S: Final = 1e3
_LARGEST_STRETCH: Final = 5.0
"""Beyond this the two features belong to different things, and a correction would be a new curve."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Model:
    """The candidate to be corrected.

    Attributes
    ----------
    pulse
        The candidate, turned so that its peak is positive.
    test, model
        Features of reference and candidate.
    deflection
        Of the candidate, turned likewise; None when none is known.
    """

    pulse: Pulse
    test: Features
    model: Features
    deflection: Pulse | None = None

    @property
    def values(self) -> Floats:
        """The candidate with its own sign, shape ``(n,)``."""
        return self.pulse.sign * self.pulse.values


def move_onset(it: Model) -> Floats:
    """Shift the whole curve by the difference of the onsets."""
    return _moved(it, [_have(it.model.onset_time)], [_have(it.test.onset_time)])


def scale_peak(it: Model) -> Floats:
    """Scale the whole curve by the ratio of the peaks."""
    return it.values * (it.test.peak / it.model.peak)


def scale_impulse(it: Model) -> Floats:
    """Scale the whole curve by the ratio of the impulses."""
    return it.values * _ratio(it.test.impulse, it.model.impulse)


def move_peak(it: Model) -> Floats:
    """Stretch the time from onset to peak so that the peak falls into its place; what follows is shifted."""
    onset, now, wanted = it.model.onset_time, it.model.peak_time, it.test.peak_time
    if onset is None or wanted <= onset or now <= onset:
        return _moved(it, [now], [wanted])
    return _moved(it, [onset, now], [onset, wanted])


def stretch_rise(it: Model) -> Floats:
    """Stretch the time before the peak, the peak kept, until the rise has the slope of the test."""
    factor = _ratio(it.model.rise_rate, it.test.rise_rate)
    start, top = rising_through(it.pulse, LOW_LEVEL), it.pulse.peak_time
    return _moved(it, [start, top], [top - (top - start) * factor, top])


def stretch_fall(it: Model) -> Floats:
    """Stretch the time after the peak, the peak kept, until the fall has the slope of the test."""
    factor = _ratio(it.model.fall_rate, it.test.fall_rate)
    end, top = falling_through(it.pulse, LOW_LEVEL), it.pulse.peak_time
    return _moved(it, [top, end], [top, top + (end - top) * factor])


def stretch_pulse(it: Model) -> Floats:
    """Stretch the time between the two half-peak points about the peak."""
    factor = _ratio(it.test.half_duration, it.model.half_duration)
    top = it.pulse.peak_time
    ends = [rising_through(it.pulse, 0.5), falling_through(it.pulse, 0.5)]
    wanted = [top + (end - top) * factor for end in ends]
    return _moved(it, [ends[0], top, ends[1]], [wanted[0], top, wanted[1]])


def lean_pulse(it: Model) -> Floats:
    """Move the peak within the main pulse, whose ends stay, until the areas share as in the test."""
    share = _have(it.test.share_before_peak)
    start, top = rising_through(it.pulse, LOW_LEVEL), it.pulse.peak_time
    end = falling_through(it.pulse, LOW_LEVEL)
    before, after = area_between(it.pulse, start, top), area_between(it.pulse, top, end)
    # Stretching a part multiplies its area; both parts together keep their length.
    rise, fall = top - start, end - top
    factor = share * after * (rise + fall) / (before * (1.0 - share) * fall + share * after * rise)
    return _moved(it, [start, top, end], [start, start + rise * factor, end])


def scale_rebound(it: Model) -> Floats:
    """Scale what lies on the other side of zero after the peak."""
    if it.model.rebound == 0.0:
        raise SignalError("the model has no rebound that could be scaled")
    factor = it.test.rebound / it.model.rebound
    after = np.arange(it.pulse.values.size) > it.pulse.top
    return np.where(after & (it.pulse.values < 0.0), factor, 1.0) * it.values


def stretch_tail(it: Model) -> Floats:
    """Stretch the time from the first extreme after the peak until the tail has the test's frequency."""
    factor = _ratio(it.model.tail_frequency, it.test.tail_frequency)
    start, end = ringing_tail(it.pulse).start, float(it.pulse.time[-1])
    return _moved(it, [start, end], [start, start + (end - start) * factor])


def damp_tail(it: Model) -> Floats:
    """Multiply the tail's deviation from rest by an exponential until it decays as in the test."""
    test = _have(it.test.tail_damping)
    tail = ringing_tail(it.pulse)
    rate = 2.0 * math.pi * tail.frequency
    decay = rate * (_decay(test) - _decay(tail.damping_ratio))
    late = np.maximum(it.pulse.time - tail.start, 0.0)
    # A test that decays slower than the model makes the factor grow; beyond this it is no tail any more.
    factor = np.exp(np.minimum(-decay * late, math.log(_LARGEST_STRETCH)))
    damped = tail.rest + (it.pulse.values - tail.rest) * factor
    return it.pulse.sign * np.where(late > 0.0, damped, it.pulse.values)


def open_loop(it: Model) -> Floats:
    """Scale the force on unloading, the more the further the deflection has gone back."""
    if it.deflection is None:
        raise SignalError("no deflection is given with the curve")
    test, model = _have(it.test.hysteresis), _have(it.model.hysteresis)
    path, push = it.deflection.values, it.pulse.values
    turn = it.deflection.top
    gone = np.where(np.arange(path.size) > turn, np.clip(1.0 - path / path[turn], 0.0, 1.0), 0.0)
    returned = -_work(push[turn:], path[turn:])
    weighted = -_work(push[turn:] * gone[turn:], path[turn:])
    if weighted <= 0.0 or returned <= 0.0 or model >= 1.0:
        raise SignalError("the model gives no work back that could be scaled")
    gain = (returned / weighted) * ((1.0 - test) / (1.0 - model) - 1.0)
    return it.values * np.maximum(1.0 + gain * gone, 0.0)


def move_one_peak(it: Model, which: int) -> Floats:
    """Move one of several peaks into its place; its neighbours stay, the time between them is stretched."""
    now = [peak.time for peak in it.model.peaks]
    wanted = [it.test.peaks[which].time if index == which else time for index, time in enumerate(now)]
    return _moved(it, now, wanted)


def scale_one_peak(it: Model, which: int) -> Floats:
    """Scale one of several peaks; the factor falls to 1 at its neighbours and at the ends of the curve."""
    peaks = it.model.peaks
    factor = it.test.peaks[which].value / peaks[which].value
    times = [float(it.pulse.time[0]), *(peak.time for peak in peaks), float(it.pulse.time[-1])]
    gains = [1.0, *(factor if index == which else 1.0 for index in range(len(peaks))), 1.0]
    return it.values * np.interp(it.pulse.time, times, gains)


def model_of(
    time: Floats, candidate: Floats, test: Features, model: Features, deflection: Floats | None
) -> Model:
    """Gather what the corrections need.

    Parameters
    ----------
    time, candidate
        Shape ``(n,)``.
    test, model
        Features of reference and candidate.
    deflection
        Of the candidate, shape ``(n,)``, or None.

    Returns
    -------
    Model
    """
    turned = None if deflection is None else pulse_of(time, deflection)
    return Model(pulse=pulse_of(time, candidate), test=test, model=model, deflection=turned)


def _moved(it: Model, now: Sequence[float], wanted: Sequence[float]) -> Floats:
    """Move times of the curve to others, straight in between and shifted outside; ends are held."""
    if any(later <= earlier for earlier, later in pairwise(wanted)):
        raise SignalError("the order in time would be lost")
    targets = [wanted[0] - _FAR_S, *wanted, wanted[-1] + _FAR_S]
    sources = [now[0] - _FAR_S, *now, now[-1] + _FAR_S]
    return np.interp(np.interp(it.pulse.time, targets, sources), it.pulse.time, it.values)


def _ratio(above: float | None, below: float | None) -> float:
    ratio = _have(above) / _have(below)
    if not 1.0 / _LARGEST_STRETCH <= ratio <= _LARGEST_STRETCH:
        raise SignalError(f"test and model differ by a factor of {ratio:.3g}, too much for a correction")
    return ratio


def _have(value: float | None) -> float:
    if value is None:
        raise SignalError("it cannot be determined for both curves")
    return value


def _decay(damping_ratio: float) -> float:
    return damping_ratio / math.sqrt(max(1.0 - damping_ratio**2, 1e-12))


def _work(push: Floats, path: Floats) -> float:
    return float(np.sum(0.5 * (push[1:] + push[:-1]) * np.diff(path)))


_OF_THE_PULSE: Final[dict[str, Callable[[Pulse], float]]] = {
    "onset_time": onset_time,
    "rise_rate": rise_rate,
    "fall_rate": fall_rate,
    "half_duration": half_duration,
    "share_before_peak": share_before_peak,
    "impulse": impulse,
}


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Features:
    """What an engineer reads off a curve. None: cannot be told; ``reasons`` says why.

    Attributes
    ----------
    onset_time
        When the absolute value first reaches 5 % of the peak, s.
    peak
        Value of largest absolute size, signed, unit of the curve.
    peak_time
        s.
    rise_rate, fall_rate
        Mean slope between 10 % and 90 % of the peak before and after it, unit of the curve a second, signed.
    half_duration
        For how long the curve is above half of its peak, s.
    share_before_peak
        Share of the main pulse's area that lies before its peak.
    peaks
        Every peak of the sign of the largest that stands out by 10 % of it, in time.
    rebound
        Largest swing to the other side after the peak, as a share of it.
    impulse
        Integral over time, unit of the curve times s.
    tail_frequency, tail_damping
        Of the ringing after the peak: damped frequency, Hz, and share of critical damping.
    hysteresis
        Share of the work of loading that the force-deflection loop keeps.
    reasons
        Why a feature is None, under its name.
    """

    onset_time: float | None
    peak: float
    peak_time: float
    rise_rate: float | None
    fall_rate: float | None
    half_duration: float | None
    share_before_peak: float | None
    peaks: tuple[CurvePeak, ...]
    rebound: float
    impulse: float | None
    tail_frequency: float | None
    tail_damping: float | None
    hysteresis: float | None
    reasons: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Freeze the reasons."""
        object.__setattr__(self, "reasons", MappingProxyType(dict(self.reasons)))

    def __reduce__(self) -> tuple[partial[Features], tuple[()]]:
        """Pickle through a plain dictionary, because a mapping proxy cannot be pickled."""
        plain = {item.name: getattr(self, item.name) for item in fields(self)}
        return partial(Features, **{**plain, "reasons": dict(self.reasons)}), ()

    @property
    def peak_count(self) -> int:
        """How many peaks there are."""
        return len(self.peaks)


def features(time: Floats, values: Floats, *, against: Floats | None = None) -> Features:
    """Tell the features of a curve.

    Parameters
    ----------
    time
        Shape ``(n,)``, s, one constant step.
    values
        Shape ``(n,)``: filtered, and without offset, because several features measure from zero.
    against
        Shape ``(n,)``: the deflection that belongs to a force, for the hysteresis.

    Returns
    -------
    Features

    Raises
    ------
    SignalError
        Unequal lengths, a sample that is not finite, a step that is not constant, or a curve that is zero
        throughout.

    References
    ----------
    .. [1] Each feature names its source: ``correlate/diagnosis/features``.

    Examples
    --------
    >>> import numpy as np
    >>> time = np.arange(101) * 1e-3
    >>> pulse = np.sin(np.pi * np.clip((time - 0.02) / 0.06, 0, 1))
    >>> found = features(time, -8 * pulse)
    >>> found.peak, round(found.peak_time, 4), round(found.half_duration, 4)
    (-8.0, 0.05, 0.04)
    >>> found.tail_damping, found.reasons["tail_damping"]
    (None, 'after its peak the curve does not ring: it has fewer than three clear extremes')
    """
    # The pair checks lengths, samples and step.
    checked = AlignedPair(time=time, reference=values, candidate=values if against is None else against)
    pulse = pulse_of(checked.time, checked.reference)
    reasons: dict[str, str] = {}
    told = {name: _told(name, tell, pulse, reasons) for name, tell in _OF_THE_PULSE.items()}
    tail = tail_of(pulse, reasons)
    return Features(
        **told,
        peak=pulse.sign * pulse.height,
        peak_time=pulse.peak_time,
        peaks=curve_peaks(pulse),
        rebound=rebound(pulse),
        tail_frequency=tail.frequency if tail else None,
        tail_damping=tail.damping_ratio if tail else None,
        hysteresis=_hysteresis(pulse, None if against is None else checked.candidate, reasons),
        reasons=reasons,
    )


def tail_of(pulse: Pulse, reasons: dict[str, str]) -> Tail | None:
    """Return the ringing tail, or None and write the reason down."""
    try:
        return ringing_tail(pulse)
    except SignalError as error:
        reasons["tail_frequency"] = reasons["tail_damping"] = error.what
        return None


def _told(name: str, tell: Callable[[Pulse], float], pulse: Pulse, reasons: dict[str, str]) -> float | None:
    try:
        return tell(pulse)
    except SignalError as error:
        reasons[name] = error.what
        return None


def _hysteresis(pulse: Pulse, against: Floats | None, reasons: dict[str, str]) -> float | None:
    if against is None:
        reasons["hysteresis"] = "no deflection is given with the curve"
        return None
    try:
        return loop_loss(pulse, pulse_of(pulse.time, against))
    except SignalError as error:
        reasons["hysteresis"] = error.what
        return None
