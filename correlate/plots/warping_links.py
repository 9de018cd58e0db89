"""Which sample of the model is compared with which sample of the test, once timing is warped away."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np
import plotly.graph_objects as go

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.metrics.iso18571 import Rating
    from correlate.plots.palette import Palette

    Floats = NDArray[np.float64]

LINKS: Final = 90
"""Links that are drawn; more would be a grey area."""


def warping_links(
    rating: Rating, *, colours: Palette, window_s: tuple[float, float] | None = None, count: int = LINKS
) -> go.Scatter:
    """Draw links between the samples that the magnitude score compares.

    Parameters
    ----------
    rating
        Of the pair.
    colours
        Of the theme.
    window_s
        Start and end of the time that is looked at, s; None for all of it.
    count
        Most links to draw.

    Returns
    -------
    plotly.graph_objects.Scatter
        Time in ms; each link goes from the test to the model, with a gap after it.

    Notes
    -----
    Links stand at equal shares of the path, so that they lie closer where the path goes along one curve
    only. Both ends are samples of the pair; the shift of the phase score is part of a link.
    """
    path = links_of(rating.warping_path(), rating.pair.time, window_s=window_s, count=count)
    time, gap = rating.pair.time, np.full(len(path), np.nan)
    x = np.column_stack([time[path[:, 0]], time[path[:, 1]], gap])
    y = np.column_stack([rating.pair.reference[path[:, 0]], rating.pair.candidate[path[:, 1]], gap])
    return go.Scatter(
        x=(1e3 * x.ravel()).astype(np.float32),
        y=y.ravel().astype(np.float32),
        mode="lines",
        name="matched by warping",
        line={"color": colours.muted, "width": 1},
        opacity=0.75,
        hoverinfo="skip",
        connectgaps=False,
        legendrank=9,
    )


def links_of(
    path: NDArray[np.int32], time: Floats, *, window_s: tuple[float, float] | None, count: int
) -> NDArray[np.int32]:
    """Choose the links to draw.

    Parameters
    ----------
    path
        Shape ``(l, 2)``: indices into test and model.
    time
        Of both, shape ``(n,)``, s.
    window_s
        Links with an end in it are wanted; None for all.
    count
        Most links.

    Returns
    -------
    numpy.ndarray
        Rows of the path, in its order, shape ``(m, 2)`` with ``m <= count``.
    """
    if window_s is not None:
        ends = time[path]
        inside = (ends >= window_s[0]) & (ends <= window_s[1])
        path = path[inside.any(axis=1)]
    chosen = np.unique(np.linspace(0, len(path) - 1, min(count, len(path))).round().astype(np.intp))
    return path[chosen]
