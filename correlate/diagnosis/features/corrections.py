"""A candidate with one feature corrected and the rest changed as little as possible.

Each correction takes a :class:`Model` and returns the corrected candidate, shape ``(n,)``, in its own sign
and unit. It raises SignalError where the feature cannot be told or the correction would be a new curve. All
are derived here.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.diagnosis.features.areas import area_between
from correlate.diagnosis.features.pulse import pulse_of
from correlate.diagnosis.features.tail import ringing_tail
from correlate.diagnosis.features.transitions import LOW_LEVEL, falling_through, rising_through
from correlate.errors import SignalError

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from correlate.diagnosis.features.gathering import Features
    from correlate.diagnosis.features.pulse import Pulse

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
