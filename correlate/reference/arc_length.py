"""Paths in a plane: cross-plots, their scales and their points by share of the arc length."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.display import short_repr
from correlate.errors import SignalError
from correlate.samples import frozen_samples

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CrossPlot:
    """One response cross-plot.

    Attributes
    ----------
    x, y
        Shape ``(n,)``: the two channels at the same instants.

    Raises
    ------
    SignalError
        Fewer than two points, numbers that are not finite, or unequal lengths.
    """

    x: Floats
    y: Floats

    def __init__(self, *, x: ArrayLike, y: ArrayLike) -> None:
        store = object.__setattr__
        store(self, "x", frozen_samples(x, channel="x"))
        store(self, "y", frozen_samples(y, channel="y"))
        if self.x.size != self.y.size:
            raise SignalError(
                f"x has {self.x.size} points and y {self.y.size}",
                remedy="bring both channels to one grid first",
            )


def path_scales(paths: Sequence[CrossPlot]) -> tuple[float, float]:
    """Return what x and y are divided by to measure arc length.

    Parameters
    ----------
    paths
        One or more.

    Returns
    -------
    tuple of float
        Mean over the paths of the largest absolute value; 1 for an axis that stays at 0.
    """
    x_scale = float(np.mean([np.abs(path.x).max() for path in paths])) or 1.0
    y_scale = float(np.mean([np.abs(path.y).max() for path in paths])) or 1.0
    return x_scale, y_scale


def points_by_arc_length(path: CrossPlot, share: Floats, scales: tuple[float, float]) -> Floats:
    """Return a path at given shares of its arc length.

    Parameters
    ----------
    path
        Of some length.
    share
        Shape ``(m,)``, in [0, 1].
    scales
        From :func:`path_scales`.

    Returns
    -------
    numpy.ndarray
        Shape ``(2, m)``: x and y, not scaled.

    Raises
    ------
    SignalError
        The path never leaves its first point.
    """
    steps = np.hypot(np.diff(path.x) / scales[0], np.diff(path.y) / scales[1])
    travelled = np.concatenate(([0.0], np.cumsum(steps)))
    if travelled[-1] == 0:
        raise SignalError("a repeat never leaves its first point", remedy="leave it out")
    moving = np.concatenate(([True], np.diff(travelled) > 0))
    at = travelled[moving] / travelled[-1]
    return np.stack([np.interp(share, at, path.x[moving]), np.interp(share, at, path.y[moving])])
