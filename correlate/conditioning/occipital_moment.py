"""The neck moment about the occipital condyle."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from correlate.conditioning.same_grid import check_same_grid
from correlate.errors import SettingsError, UnitError
from correlate.signal import Step
from correlate.units import conversion_factor

if TYPE_CHECKING:
    from correlate.signal import Signal

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
        Step(MOMENT_STEP, settings), samples=moment_y.samples - arm * force_x.samples, channel=channel
    )


def _factor(signal: Signal, unit: str) -> float:
    try:
        return conversion_factor(signal.unit, unit)
    except UnitError as error:
        raise error.located(signal.place) from None
