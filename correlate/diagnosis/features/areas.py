"""Areas under a curve, hysteresis, and the decay of its tail."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.criteria.curve_measures import internal_hysteresis
from correlate.diagnosis.features.pulse import LOW_LEVEL, falling_through, rising_through
from correlate.errors import SignalError

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.diagnosis.features.pulse import Pulse

    Floats = NDArray[np.float64]


LEAST_NET_SHARE: Final = 0.2
"""An impulse below this share of the absolute area is a difference of large numbers: not told."""


def impulse(pulse: Pulse) -> float:
    r"""Return the integral over time (trapezoidal rule), signed.

    .. math:: \int y\,dt

    Parameters
    ----------
    pulse
        The curve.

    Returns
    -------
    float
        Unit of the curve times s.

    Raises
    ------
    SignalError
        Positive and negative areas nearly cancel: what is left is less than a fifth of both together.

    References
    ----------
    .. [1] Textbook; that a small remainder is not told: choice made here.
    """
    net = float(np.trapezoid(pulse.values, pulse.time))
    whole = float(np.trapezoid(np.abs(pulse.values), pulse.time))
    if abs(net) < LEAST_NET_SHARE * whole:
        raise SignalError("its positive and negative areas nearly cancel")
    return pulse.sign * net


def share_before_peak(pulse: Pulse) -> float:
    """Return the share of the main pulse's area that lies before its peak.

    The main pulse runs around the peak from and to 10 % of it. A symmetric pulse has 0.5.

    References
    ----------
    .. [1] Definition made here.
    """
    start, end = rising_through(pulse, LOW_LEVEL), falling_through(pulse, LOW_LEVEL)
    before = area_between(pulse, start, pulse.peak_time)
    return before / (before + area_between(pulse, pulse.peak_time, end))


def area_between(pulse: Pulse, start: float, end: float) -> float:
    """Return the area between two times inside the curve, on straight lines between samples.

    Parameters
    ----------
    pulse
        The curve.
    start, end
        s, in this order.

    Returns
    -------
    float
        Unit of the curve times s.
    """
    inside = pulse.time[(pulse.time > start) & (pulse.time < end)]
    times = np.concatenate([[start], inside, [end]])
    return float(np.trapezoid(np.interp(times, pulse.time, pulse.values), times))


def loop_loss(force: Pulse, deflection: Pulse) -> float:
    """Return the share of the work of loading that is not given back.

    References
    ----------
    .. [1] 49 CFR 572.34, see :func:`correlate.criteria.curve_measures.internal_hysteresis`.
    """
    step_s = float((force.time[-1] - force.time[0]) / (force.time.size - 1))
    return internal_hysteresis(force.values, deflection.values, step_s=step_s).value


LEAST_SWING: Final = 0.02
"""A swing of the tail has at least this share of the peak; below it noise rules (choice made here)."""
LEAST_SWINGS: Final = 2
LARGEST_SCATTER: Final = 0.35
"""Standard deviation of the log swings about their line, beyond which no decay is told (choice here)."""
LARGEST_UNEVENNESS: Final = 0.35
"""Relative standard deviation of the half periods, beyond which there is no one frequency (choice here)."""


@dataclass(frozen=True, slots=True)
class Tail:
    """A tail that rings out.

    Attributes
    ----------
    frequency
        Damped frequency, Hz.
    damping_ratio
        Share of critical damping; negative where the swings grow.
    start
        Time of the first extreme, s.
    rest
        Level that the tail rings about, unit of the curve, turned like the pulse.
    swings
        How many half periods it was told from.
    """

    frequency: float
    damping_ratio: float
    start: float
    rest: float
    swings: int


def ringing_tail(pulse: Pulse) -> Tail:
    r"""Tell frequency and damping ratio of the tail from its successive extremes.

    .. math:: A_k = |e_{k+1} - e_k|, \qquad \delta = 2\,\overline{\ln (A_k / A_{k+1})}, \qquad
              \zeta = \frac{\delta}{\sqrt{4\pi^2 + \delta^2}}, \qquad f = \frac{1}{2\,\overline{\Delta t}}

    The extremes :math:`e_k` begin with the first one after the peak. Swings from extreme to extreme do not
    depend on the level that the tail rings about. The mean decrement is the slope of a straight line through
    :math:`\ln A_k`.

    Parameters
    ----------
    pulse
        The curve.

    Returns
    -------
    Tail

    Raises
    ------
    SignalError
        Fewer than three extremes after the peak that are 2 % of it apart, swings that follow no single
        decay, or half periods that are not alike.

    References
    ----------
    .. [1] Logarithmic decrement: textbook, for instance Thomson, Theory of Vibration with Applications,
       chapter on free vibration, from memory. From extreme to extreme: derived here, a half period
       multiplies the deviation from rest by -exp(-δ/2), hence each swing by exp(-δ/2).
    """
    times, levels = _extremes(pulse)
    swings = np.abs(np.diff(levels))
    if swings.size < LEAST_SWINGS:
        raise SignalError("after its peak the curve does not ring: it has fewer than three clear extremes")
    order = np.arange(swings.size, dtype=np.float64)
    slope, start = np.polyfit(order, np.log(swings), 1)
    scatter = float(np.std(np.log(swings) - start - slope * order))
    halves = np.diff(times)
    if scatter > LARGEST_SCATTER or float(np.std(halves)) > LARGEST_UNEVENNESS * float(halves.mean()):
        raise SignalError("after its peak the curve does not ring out with one frequency and one decay")
    decrement = -2.0 * float(slope)
    return Tail(
        frequency=float(0.5 / halves.mean()),
        damping_ratio=decrement / math.hypot(2.0 * math.pi, decrement),
        start=float(times[0]),
        rest=_rest(levels, decrement),
        swings=int(swings.size),
    )


def _rest(levels: Floats, decrement: float) -> float:
    """Return the level between the last two extremes to which the decay leads."""
    return float(levels[-1] + (levels[-2] - levels[-1]) / (1.0 + math.exp(0.5 * decrement)))


def _extremes(pulse: Pulse) -> tuple[Floats, Floats]:
    """Return times and values of alternating extremes after the peak, refined by a parabola."""
    least = LEAST_SWING * pulse.height
    samples = _turns(pulse.values[pulse.top :], least) + pulse.top
    refined = [_vertex(pulse, int(one)) for one in samples]
    return np.array([time for time, _ in refined]), np.array([value for _, value in refined])


def _turns(values: Floats, least: float) -> NDArray[np.int64]:
    """Return the samples where a curve that starts at its top turns by at least a given height.

    The last extreme is one only once the curve has left it by that height.
    """
    turns: list[int] = []
    falling, extreme = True, 0
    for index, value in enumerate(values.tolist()):
        further = value < values[extreme] if falling else value > values[extreme]
        if further:
            extreme = index
        elif abs(value - values[extreme]) >= least:
            turns.append(extreme)
            falling, extreme = not falling, index
    return np.array(turns, dtype=np.int64)


def _vertex(pulse: Pulse, sample: int) -> tuple[float, float]:
    """Return time and value of the vertex of the parabola through three samples."""
    before, here, after = (float(one) for one in pulse.values[sample - 1 : sample + 2])
    bend = before - 2.0 * here + after
    if bend == 0.0:
        return float(pulse.time[sample]), here
    offset = 0.5 * (before - after) / bend
    step = float(pulse.time[sample + 1] - pulse.time[sample])
    return float(pulse.time[sample]) + offset * step, here - 0.25 * (before - after) * offset
