"""Channels derived from others: integral, derivative, resultant, moment transfer, mean."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.channel import ChannelCode, is_channel_code
from correlate.conditioning.filters import FILTER_STEP
from correlate.conditioning.time_axis import GRID_TOLERANCE, crop
from correlate.errors import SettingsError, SignalError, UnitError
from correlate.samples import handed_over
from correlate.signal import Signal, Source, Step
from correlate.units import Exponents, conversion_factor, parse_unit, si_text

if TYPE_CHECKING:
    from collections.abc import Sequence


def check_same_grid(one: Signal, other: Signal) -> None:
    """Refuse two signals whose samples were not taken at the same times.

    Parameters
    ----------
    one, other
        Any two signals.

    Raises
    ------
    SignalError
        They differ in number of samples, start or step.
    """
    slack_s = GRID_TOLERANCE * one.step_s
    apart_s = max(abs(other.start_s - one.start_s), abs(other.end_s - one.end_s))
    if len(other) != len(one) or apart_s > slack_s:
        raise SignalError(
            f"its {len(other)} samples from {other.start_s:.6g} s to {other.end_s:.6g} s do not match "
            f"the {len(one)} from {one.start_s:.6g} s to {one.end_s:.6g} s of channel '{one.channel}'",
            where=other.place,
            remedy="resample and crop both to one grid first",
        )


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
        samples=handed_over(slope),
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
        samples=handed_over(initial + np.concatenate(([0.0], np.cumsum(areas)))),
        unit=si_text(_times_seconds(exponents, 1)),
        channel=_renamed(signal.channel, _INTEGRAL_OF, "integral"),
    )


def _in_si(signal: Signal) -> tuple[Signal, Exponents]:
    """Return the signal in SI; one that is in SI already keeps its unit text."""
    unit = parse_unit(signal.unit)
    is_si = unit.factor == 1 and not unit.zero
    return (signal if is_si else signal.in_unit(si_text(unit.exponents))), unit.exponents


def _times_seconds(exponents: Exponents, power: int) -> Exponents:
    metre, kilogram, second, *others = exponents
    radian, kelvin, ampere = others
    return metre, kilogram, second + power, radian, kelvin, ampere


def _renamed(channel: str, dimensions: dict[str, str], word: str) -> str:
    """Return the code with its new physical dimension, or the name with the word in front."""
    if is_channel_code(channel):
        code = ChannelCode(channel)
        if code.dimension in dimensions:
            return f"{channel[:12]}{dimensions[code.dimension]}{channel[14:]}"
    return f"{word} of {channel}"


def mean_signal(signals: Sequence[Signal], names: Sequence[str]) -> Signal:
    """Average signals on one grid over the time they share; they are not moved in time first.

    Parameters
    ----------
    signals
        Conditioned alike, at least one.
    names
        Of each, for the history.

    Returns
    -------
    Signal
        In the unit of the first; its history names the signals and the hashes of their files.

    Raises
    ------
    SignalError
        They share no time.
    UnitError
        They measure different things.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> def curve(height: float) -> Signal:
    ...     return Signal(samples=[0.0, height, 0.0], start_s=0.0, step_s=1e-4, unit="g", channel="ax")
    >>> mean_signal([curve(1.0), curve(3.0)], ["T1", "T2"]).samples.tolist()
    [0.0, 2.0, 0.0]
    """
    first = signals[0]
    start_s = max(signal.start_s for signal in signals)
    end_s = min(signal.end_s for signal in signals)
    if end_s <= start_s:
        raise SignalError("the repeats share no time", where=first.place, remedy="correct their time zeros")
    cut = [crop(signal.in_unit(first.unit), start_s=start_s, end_s=end_s) for signal in signals]
    step = Step("mean of repeats", {"repeats": list(names), "inputs": [one.source.sha256 for one in cut]})
    return Signal(
        samples=handed_over(np.mean([signal.samples for signal in cut], axis=0)),
        start_s=cut[0].start_s,
        step_s=cut[0].step_s,
        unit=first.unit,
        channel=first.channel,
        source=Source("mean of " + ", ".join(one.source.file for one in cut)),
        history=(*cut[0].history, step),
    )


MOMENT_STEP: Final = "transfer moment"
"""Name of the step in the history of a transferred moment."""
LOAD_CELL_DISTANCE_M: Final = 0.01778
"""From the usual six-axis upper neck load cell to the occipital condyle, m (49 CFR 572.123(b)(1)(iii))."""


def occipital_moment(
    moment_y: Signal,
    force_x: Signal,
    *,
    distance_m: float = LOAD_CELL_DISTANCE_M,
    channel: str = "occipital condyle moment Y",
) -> Signal:
    r"""Return the neck moment about the occipital condyle from the upper neck load cell.

    .. math:: M_\mathrm{oc} = M_y - D\,F_x

    Polarity after SAE J1733: :math:`+M_y` bends the chin to the chest, :math:`+F_x` pushes the head rearward
    relative to the chest. Filter both with one class first.

    Parameters
    ----------
    moment_y
        :math:`M_y`, a moment.
    force_x
        :math:`F_x`, a force on the same grid.
    distance_m
        :math:`D`, m.
    channel
        Name of the result.

    Returns
    -------
    Signal
        In the unit of `moment_y`. Its history is that of `moment_y` and ``"transfer moment"`` with the
        distance, the force channel and the steps that it went through.

    Raises
    ------
    SettingsError
        The distance is not finite.
    SignalError
        The two are not on one grid.
    UnitError
        `moment_y` is no moment or `force_x` no force.

    References
    ----------
    .. [1] 49 CFR 572.123(b)(1)(iii), formula and distance. Polarity: SAE J1733 and J211-1, from memory.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> moment = Signal(samples=[50.0, 90.0], start_s=0, step_s=1e-4, unit="N·m", channel="upper neck My")
    >>> force = Signal(samples=[0.0, -1.0], start_s=0, step_s=1e-4, unit="kN", channel="upper neck Fx")
    >>> occipital_moment(moment, force).samples
    array([ 50.  , 107.78])
    """
    if not math.isfinite(distance_m):
        raise SettingsError(f"the distance is {distance_m} m", remedy="give a finite number of metres")
    check_same_grid(moment_y, force_x)
    arm = distance_m * _factor(force_x, "N") / _factor(moment_y, "N·m")
    settings = {
        "distance_m": distance_m,
        "moment": moment_y.channel,
        "force": force_x.channel,
        "force_steps": tuple(str(step) for step in force_x.history),
    }
    return moment_y.then(
        Step(MOMENT_STEP, settings),
        samples=handed_over(moment_y.samples - arm * force_x.samples),
        channel=channel,
    )


def _factor(signal: Signal, unit: str) -> float:
    try:
        return conversion_factor(signal.unit, unit)
    except UnitError as error:
        raise error.located(signal.place) from None


RESULTANT_STEP: Final = "resultant"
"""Name of the step in the history of a resultant."""


def resultant(x: Signal, y: Signal, z: Signal, *, channel: str | None = None) -> Signal:
    r"""Return the length of a vector from its three components.

    .. math:: r = \sqrt{x^2 + y^2 + z^2}

    Parameters
    ----------
    x, y, z
        Components along three perpendicular axes: one grid, one unit, filtered alike.
    channel
        Name of the result. When not given: the shared channel code with direction ``R``, or the names of
        the three channels.

    Returns
    -------
    Signal
        Never negative, in the unit of the components. Its history is that of `x` and ``"resultant"``
        with the three channels and the steps that `y` and `z` went through.

    Raises
    ------
    SignalError
        The components differ in grid, unit or filter.

    References
    ----------
    .. [1] Euclidean length. Filtering the components alike and before: common practice, no source.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> def axis(name: str, value: float) -> Signal:
    ...     return Signal(samples=[value, 0], start_s=0, step_s=1e-4, unit="g", channel=name)
    >>> total = resultant(
    ...     axis("D0HEAD0000KMACX0", 2), axis("D0HEAD0000KMACY0", 3), axis("D0HEAD0000KMACZ0", 6)
    ... )
    >>> total.channel, total.samples
    ('D0HEAD0000KMACR0', array([7., 0.]))
    """
    for other in (y, z):
        check_same_grid(x, other)
        if other.unit != x.unit:
            raise SignalError(
                f"it is in {other.unit} and channel '{x.channel}' in {x.unit}",
                where=other.place,
                remedy="convert the components to one unit first",
            )
        if _filters(other) != _filters(x):
            raise SignalError(
                f"it is filtered differently from channel '{x.channel}'",
                where=other.place,
                remedy="filter all three components with one class first",
            )
    settings = {"x": x.channel, "y": y.channel, "z": z.channel, "y_steps": _steps(y), "z_steps": _steps(z)}
    length = np.hypot(np.hypot(x.samples, y.samples), z.samples)
    return x.then(
        Step(RESULTANT_STEP, settings),
        samples=handed_over(length),
        channel=channel or _resultant_channel(x, y, z),
    )


def _filters(signal: Signal) -> tuple[int, ...]:
    return tuple(step.settings["cfc"] for step in signal.history if step.name == FILTER_STEP)


def _steps(signal: Signal) -> tuple[str, ...]:
    return tuple(str(step) for step in signal.history)


def _resultant_channel(x: Signal, y: Signal, z: Signal) -> str:
    names = [axis.channel for axis in (x, y, z)]
    if all(is_channel_code(name) for name in names):
        code = ChannelCode(x.channel)
        if all((ChannelCode(name).sensor, name[-1]) == (code.sensor, code.filter_letter) for name in names):
            return f"{code.sensor}R{code.filter_letter}"
    return f"resultant of {', '.join(names)}"
