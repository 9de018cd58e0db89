"""Derivative and integral over time, in coherent SI units."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.channel import ChannelCode, is_channel_code
from correlate.errors import SettingsError, SignalError
from correlate.signal import Step
from correlate.units import Exponents, parse_unit, si_text

if TYPE_CHECKING:
    from correlate.signal import Signal

DERIVATIVE_STEP: Final = "derivative"
"""Name of the step in the history of a derivative."""
INTEGRAL_STEP: Final = "integral"
"""Name of the step in the history of an integral."""

_RATE_OF: Final[dict[str, str]] = {"DS": "VE", "VE": "AC", "AN": "AV", "AV": "AA"}
_INTEGRAL_OF: Final[dict[str, str]] = {rate: level for level, rate in _RATE_OF.items()}


def derivative(signal: Signal) -> Signal:
    r"""Return the rate of change of a signal.

    Central differences inside, second-order one-sided differences at both ends; both are exact for a
    parabola.

    .. math:: y'_i = \frac{y_{i+1} - y_{i-1}}{2 \Delta t}, \quad
              y'_0 = \frac{-3 y_0 + 4 y_1 - y_2}{2 \Delta t}

    Parameters
    ----------
    signal
        At least three samples. It is converted to SI first where it is in another unit (mm to m, g to
        m/s²), as a recorded step.

    Returns
    -------
    Signal
        Same grid, SI unit of the signal over s. Its history gains ``"derivative"``. The physical dimension
        in a channel code follows (displacement, velocity, acceleration; angle, rate, angular acceleration).

    Raises
    ------
    SignalError
        Fewer than three samples.

    References
    ----------
    .. [1] Second-order finite differences; any textbook of numerical analysis.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> path = Signal(samples=[0.0, 1.0, 4.0, 9.0], start_s=0, step_s=0.001, unit="mm", channel="sternum")
    >>> speed = derivative(path)
    >>> speed.unit, [round(float(value), 9) for value in speed.samples]
    ('m/s', [0.0, 2.0, 4.0, 6.0])
    """
    if len(signal) < 3:
        raise SignalError(
            f"{len(signal)} samples are too few for a derivative",
            where=signal.place,
            remedy="give three or more",
        )
    in_si, exponents = _in_si(signal)
    slope = np.gradient(in_si.samples, in_si.step_s, edge_order=2)
    settings = {"of": signal.channel, "method": "central differences"}
    return in_si.then(
        Step(DERIVATIVE_STEP, settings),
        samples=slope,
        unit=si_text(_times_seconds(exponents, -1)),
        channel=_renamed(signal.channel, _RATE_OF, "derivative"),
    )


def integral(signal: Signal, *, initial: float = 0.0) -> Signal:
    r"""Return the running integral of a signal over time, by the trapezoidal rule.

    .. math:: I_0 = I_\mathrm{initial}, \quad I_i = I_{i-1} + \tfrac{1}{2} (y_{i-1} + y_i)\, \Delta t

    Parameters
    ----------
    signal
        It is converted to SI first where it is in another unit (g to m/s²), as a recorded step.
    initial
        Value at the first sample, in the unit of the result; for instance the impact speed in m/s.

    Returns
    -------
    Signal
        Same grid, SI unit of the signal times s. Its history gains ``"integral"``. The physical dimension
        in a channel code follows (acceleration, velocity, displacement; angular acceleration, rate, angle).

    Raises
    ------
    SettingsError
        The initial value is not finite.

    References
    ----------
    .. [1] Trapezoidal rule; any textbook of numerical analysis.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> pulse = Signal(samples=[2.0, 2.0, 2.0], start_s=0, step_s=0.5, unit="g", channel="sled ax")
    >>> speed = integral(pulse)
    >>> speed.unit, [round(float(value), 9) for value in speed.samples]
    ('m/s', [0.0, 9.80665, 19.6133])
    """
    if not math.isfinite(initial):
        raise SettingsError(f"the initial value is {initial}", remedy="give a finite number")
    in_si, exponents = _in_si(signal)
    areas = (in_si.samples[:-1] + in_si.samples[1:]) * (in_si.step_s / 2)
    settings = {"of": signal.channel, "method": "trapezoidal rule", "initial": initial}
    return in_si.then(
        Step(INTEGRAL_STEP, settings),
        samples=initial + np.concatenate(([0.0], np.cumsum(areas))),
        unit=si_text(_times_seconds(exponents, 1)),
        channel=_renamed(signal.channel, _INTEGRAL_OF, "integral"),
    )


def _in_si(signal: Signal) -> tuple[Signal, Exponents]:
    """Return the signal in SI; one that is in SI already keeps its unit text."""
    unit = parse_unit(signal.unit)
    return (signal if unit.factor == 1 else signal.in_unit(si_text(unit.exponents))), unit.exponents


def _times_seconds(exponents: Exponents, power: int) -> Exponents:
    metre, kilogram, second, radian = exponents
    return metre, kilogram, second + power, radian


def _renamed(channel: str, dimensions: dict[str, str], word: str) -> str:
    """Return the code with its new physical dimension, or the name with the word in front."""
    if is_channel_code(channel):
        code = ChannelCode(channel)
        if code.dimension in dimensions:
            return f"{channel[:12]}{dimensions[code.dimension]}{channel[14:]}"
    return f"{word} of {channel}"
