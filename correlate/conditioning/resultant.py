"""The length of a vector measured along three axes."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.channel import ChannelCode, is_channel_code
from correlate.conditioning.cfc import FILTER_STEP
from correlate.conditioning.same_grid import check_same_grid
from correlate.errors import SignalError
from correlate.signal import Step

if TYPE_CHECKING:
    from correlate.signal import Signal

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
        Step(RESULTANT_STEP, settings), samples=length, channel=channel or _resultant_channel(x, y, z)
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
