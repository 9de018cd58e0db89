"""Two channels of the same repeats against each other, such as force against deflection."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.display import short_repr
from correlate.errors import SignalError
from correlate.reference.cross_plot import CrossPlot, CrossPlotCorridor, cross_plot_corridor
from correlate.reference.repeats import repeat_set

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.conditioning import Recipe
    from correlate.signal import Signal


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelCrossPlot:
    """One channel against another over the repeats of a test, with the corridor they sweep.

    Attributes
    ----------
    corridor
        Of the repeats.
    paths
        One a repeat.
    x_channel, y_channel, x_unit, y_unit
        Of the axes.
    """

    corridor: CrossPlotCorridor
    paths: tuple[CrossPlot, ...]
    x_channel: str
    y_channel: str
    x_unit: str
    y_unit: str


def channel_cross_plot(
    *,
    across: Sequence[Signal],
    upright: Sequence[Signal],
    across_recipe: Recipe,
    upright_recipe: Recipe,
    times: float = 1.0,
) -> ChannelCrossPlot:
    """Plot one channel of each repeat against another at the same instants.

    Parameters
    ----------
    across, upright
        The channel of the x and of the y axis: one signal a repeat, as recorded, in one order.
    across_recipe, upright_recipe
        Conditioning of each, with one interval and one step.
    times
        Half axes of the ellipses in standard deviations.

    Returns
    -------
    ChannelCrossPlot

    Raises
    ------
    SignalError
        There are not as many signals of one channel as of the other, the intervals or steps differ, or see
        :func:`repeat_set` and :func:`cross_plot_corridor`.
    SettingsError
        `times` is not above 0.
    UnitError
        Repeats of one channel measure different things.

    Notes
    -----
    Repeats are not moved in time: two channels of one test belong to the same instants, and points of
    different repeats correspond by their share of the arc, not by their time.
    """
    if len(across) != len(upright):
        raise SignalError(
            f"there are {len(across)} repeats of one channel and {len(upright)} of the other",
            remedy="give both channels of every repeat",
        )
    x = repeat_set(across, across_recipe, largest_shift_s=0.0)
    y = repeat_set(upright, upright_recipe, largest_shift_s=0.0)
    if x.time_s.shape != y.time_s.shape or abs(x.time_s - y.time_s).max() > 1e-9:
        raise SignalError(
            f"'{x.channel}' and '{y.channel}' are not on one time grid",
            remedy="give both recipes one interval and one step",
        )
    paths = tuple(CrossPlot(x=one, y=other) for one, other in zip(x.curves, y.curves, strict=True))
    return ChannelCrossPlot(
        corridor=cross_plot_corridor(paths, times=times),
        paths=paths,
        x_channel=x.channel,
        y_channel=y.channel,
        x_unit=x.unit,
        y_unit=y.unit,
    )
