"""Force against deflection: repeats, mean curve, corridor."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning import Recipe, condition
from correlate.display import short_repr
from correlate.errors import SettingsError, SignalError
from correlate.reference.arc_length import CrossPlot, path_scales, points_by_arc_length
from correlate.reference.path_deviation import path_deviation
from correlate.reference.registration import STATIONS, equal_shares, warped_along_arc
from correlate.reference.repeats import repeat_set

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import ArrayLike, NDArray

    from correlate.reference.path_deviation import PathDeviation
    from correlate.reference.registration import ArcRegistration
    from correlate.reference.repeats import RepeatSet
    from correlate.signal import Signal

    Registration = Callable[[Sequence[CrossPlot], int], ArcRegistration]

    Floats = NDArray[np.float64]


_BLOCK: Final = 2_000_000


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CrossPlotCorridor:
    """The mean path of repeats with an ellipse at each station.

    Attributes
    ----------
    share
        Shape ``(m,)``: share of the arc length, 0 to 1.
    x, y
        Shape ``(m,)``: mean path.
    x_half, y_half
        Shape ``(m,)``: half axes of the ellipses, `times` standard deviations.
    times
        Standard deviations.
    repeats
        Number of repeats.
    x_scale, y_scale
        What the two axes were divided by to measure arc length.
    assumptions
        Assumptions behind it.
    """

    share: Floats
    x: Floats
    y: Floats
    x_half: Floats
    y_half: Floats
    times: float
    repeats: int
    x_scale: float
    y_scale: float
    assumptions: tuple[str, ...]

    def depth(self, x: ArrayLike, y: ArrayLike) -> Floats:
        r"""Return how deep points lie in the corridor.

        .. math:: q = \min_k \left(\frac{x - x_k}{a_k}\right)^2 + \left(\frac{y - y_k}{b_k}\right)^2

        over all stations and nine more between any two, so that gaps between ellipses are swept too.

        Parameters
        ----------
        x, y
            Points, any one shape.

        Returns
        -------
        numpy.ndarray
            Same shape; 1 on the edge, less inside.
        """
        flat_x = np.asarray(x, dtype=np.float64)
        flat_y = np.asarray(y, dtype=np.float64)
        shape = flat_x.shape
        centre_x, centre_y, half_x, half_y = self._ellipses()
        points = np.stack([flat_x.ravel(), flat_y.ravel()])
        result = np.empty(points.shape[1])
        block = max(1, _BLOCK // centre_x.size)
        for start in range(0, points.shape[1], block):
            part = points[:, start : start + block, None]
            q = ((part[0] - centre_x) / half_x) ** 2 + ((part[1] - centre_y) / half_y) ** 2
            result[start : start + block] = q.min(axis=1)
        return result.reshape(shape)

    def depth_on_grid(self, x: ArrayLike, y: ArrayLike) -> Floats:
        """Return the same for every combination of ``x`` and ``y``, in a fraction of the time.

        Parameters
        ----------
        x, y
            Positions along the axes, shapes ``(n,)`` and ``(m,)``.

        Returns
        -------
        numpy.ndarray
            Shape ``(m, n)``.
        """
        centre_x, centre_y, half_x, half_y = self._ellipses()
        along_x = ((np.asarray(x, dtype=np.float64)[:, None] - centre_x) / half_x) ** 2
        along_y = ((np.asarray(y, dtype=np.float64)[:, None] - centre_y) / half_y) ** 2
        both = np.empty_like(along_x)
        return np.array([np.add(along_x, one, out=both).min(axis=1) for one in along_y])

    def _ellipses(self) -> tuple[Floats, Floats, Floats, Floats]:
        """Return centres and half axes at all stations and nine more between any two."""
        stations = np.linspace(0, self.share.size - 1, 10 * (self.share.size - 1) + 1)
        index = np.arange(self.share.size)
        centre_x, centre_y, half_x, half_y = (
            np.interp(stations, index, values) for values in (self.x, self.y, self.x_half, self.y_half)
        )
        # An ellipse without width still holds its own centre.
        half_x = np.maximum(half_x, 1e-12 * self.x_scale)
        half_y = np.maximum(half_y, 1e-12 * self.y_scale)
        return centre_x, centre_y, half_x, half_y

    def share_inside(self, path: CrossPlot) -> float:
        """Return the share of a path's arc length that lies in the corridor.

        Parameters
        ----------
        path
            The model, or another repeat.

        Returns
        -------
        float
            In [0, 1]. Arc length is measured in the scaled axes; a path without length counts by its points.
        """
        inside = self.depth(path.x, path.y) <= 1.0 + 1e-9
        steps = np.hypot(np.diff(path.x) / self.x_scale, np.diff(path.y) / self.y_scale)
        total = float(steps.sum())
        if total == 0:
            return float(inside.mean())
        return float((steps * (0.5 * inside[1:] + 0.5 * inside[:-1])).sum() / total)


def cross_plot_corridor(
    paths: Sequence[CrossPlot],
    *,
    times: float = 1.0,
    stations: int = STATIONS,
    registration: Registration = equal_shares,
) -> CrossPlotCorridor:
    r"""Average cross-plots by arc length and describe their scatter by ellipses.

    Each axis is divided by the mean over the repeats of its largest absolute value. With the arc length
    :math:`s_i = \sum \sqrt{\Delta x^2 + \Delta y^2}` of each scaled repeat, points at the same
    :math:`s_i / s_{i,\mathrm{end}}` correspond, or those that a registration brings together. Their mean is
    the mean path; ellipses have half axes :math:`k\,s_x` and :math:`k\,s_y`, parallel to the axes.

    Parameters
    ----------
    paths
        Two repeats or more, filtered, cut to the same part of the event.
    times
        :math:`k`, above 0.
    stations
        Number of stations, 10 or more.
    registration
        Which points of the repeats correspond: :func:`equal_shares`, :func:`warped_along_arc` or
        :func:`features_along_arc`.

    Returns
    -------
    CrossPlotCorridor

    Raises
    ------
    SignalError
        Fewer than two repeats, or one that never leaves its first point.
    SettingsError
        `times` is not above 0 or there are fewer than 10 stations.

    References
    ----------
    .. [1] Lessley, Crandall, Shaw, Kent, Funk, "A normalization technique for developing corridors from
       individual subject responses", SAE 2004-01-0288, from memory.
    .. [2] Hartlen, Cronin, "Arc-length re-parametrization and signal registration to determine a
       characteristic average and statistical response corridors of biomechanical data", Frontiers in
       Bioengineering and Biotechnology 10 (2022), from memory; its registration is :func:`warped_along_arc`.

    Examples
    --------
    >>> import numpy as np
    >>> angle = np.linspace(0, np.pi, 500)
    >>> def arc(radius: float) -> CrossPlot:
    ...     return CrossPlot(x=radius * np.cos(angle), y=radius * np.sin(angle))
    >>> band = cross_plot_corridor([arc(0.9), arc(1.0), arc(1.1)])
    >>> [round(float(band.depth(0.0, height)), 2) for height in (1.0, 1.1)]
    [0.0, 1.0]
    """
    if len(paths) < 2:
        raise SignalError("a corridor needs two repeats or more", remedy="test again")
    if not 0 < times < float("inf") or stations < 10:
        raise SettingsError(
            f"{times!r} standard deviations at {stations} stations do not define a corridor",
            remedy="give a number above 0 and at least 10 stations",
        )
    scales = path_scales(paths)
    found = registration(paths, stations)
    points = np.stack(
        [points_by_arc_length(path, own, scales) for path, own in zip(paths, found.own, strict=True)]
    )
    mean = points.mean(axis=0)
    half = times * points.std(axis=0, ddof=1)
    return CrossPlotCorridor(
        share=found.share,
        x=mean[0],
        y=mean[1],
        x_half=half[0],
        y_half=half[1],
        times=times,
        repeats=len(paths),
        x_scale=scales[0],
        y_scale=scales[1],
        assumptions=(
            found.method,
            "the scatter along the two axes is independent at each station",
            "noise lengthens the arc: the repeats are filtered in the same way first",
            f"with {len(paths)} repeats the standard deviation itself is uncertain",
        ),
    )


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelCrossPlot:
    """One channel over another for the repeats of a test, with their corridor.

    Attributes
    ----------
    corridor
        Of the repeats.
    paths
        One a repeat.
    x_channel, y_channel, x_unit, y_unit
        Of the axes.
    model
        Of a model; None without one.
    share_inside
        Share of the model's arc inside the corridor; None without a model.
    deviation
        Of the model from the mean path; None without a model.
    """

    corridor: CrossPlotCorridor
    paths: tuple[CrossPlot, ...]
    x_channel: str
    y_channel: str
    x_unit: str
    y_unit: str
    model: CrossPlot | None = None
    share_inside: float | None = None
    deviation: PathDeviation | None = None


def channel_cross_plot(
    *,
    across: Sequence[Signal],
    upright: Sequence[Signal],
    across_recipe: Recipe,
    upright_recipe: Recipe,
    times: float = 1.0,
    model: tuple[Signal, Signal] | None = None,
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
    model
        Channels of the x and of the y axis of a model, as recorded; None without one.

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
    Repeats are not moved in time: two channels of one test belong to the same instants. Points of different
    repeats correspond along the arc, registered by :func:`warped_along_arc`.
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
    corridor = cross_plot_corridor(paths, times=times, registration=warped_along_arc)
    path = None
    if model is not None:
        path = CrossPlot(
            x=_model_curve(model[0], across_recipe, x), y=_model_curve(model[1], upright_recipe, y)
        )
    return ChannelCrossPlot(
        corridor=corridor,
        paths=paths,
        x_channel=x.channel,
        y_channel=y.channel,
        x_unit=x.unit,
        y_unit=y.unit,
        model=path,
        share_inside=None if path is None else corridor.share_inside(path),
        deviation=None if path is None else path_deviation(corridor, path),
    )


def _model_curve(model: Signal, recipe: Recipe, repeats: RepeatSet) -> Floats:
    """Return a model's channel, conditioned as in its rating, on the grid of the repeats."""
    treated = condition(model, recipe.for_candidate(repeats.unit))
    interval = Recipe(start_s=float(repeats.time_s[0]), end_s=float(repeats.time_s[-1]), step_s=recipe.step_s)
    return np.asarray(repeat_set([treated], interval, largest_shift_s=0.0).curves[0])
