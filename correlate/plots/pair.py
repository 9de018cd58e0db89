"""The picture of one pair: both curves in their corridors, and below them the score of every sample."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np
import plotly.graph_objects as go

from correlate.metrics.iso18571.corridor import corridor_scores
from correlate.plots.graph import new_figure
from correlate.plots.palette import palette
from correlate.plots.reduction import kept_samples
from correlate.plots.wording import channel_title, interval_words, share, unit_words

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.campaign import PairScore
    from correlate.metrics.iso18571 import Rating
    from correlate.plots.palette import Palette, Theme

    Floats = NDArray[np.float64]

HEIGHT: Final = 520
"""Of the figure, in pixels."""
_CURVES: Final = (0.27, 1.0)
_SCORES: Final = (0.0, 0.17)


def pair_figure(score: PairScore, *, theme: Theme = "light") -> go.Figure:
    """Draw a pair.

    Parameters
    ----------
    score
        From ``score_pair``.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Figure
        Above: test and model with the inner and outer corridor around the test, in their unit. Below: the
        corridor score of every sample. One time axis in ms. Long curves are reduced to the extremes of
        every pixel column.
    """
    colours = palette(theme)
    traces = [
        *_corridors(score.rating, colours),
        *_curves(score, colours),
        _sample_scores(score.rating, colours),
    ]
    return new_figure(traces, _layout(score, colours), colours=colours)


def _corridors(rating: Rating, colours: Palette) -> list[go.Scatter]:
    """Return two edges for each corridor, the outer one first, so that the inner lies on it."""
    settings, widths = rating.settings, rating.ingredients.corridor
    return [
        *_band(rating, "outer", settings.outer_half_width, widths.outer_half_width, colours, legendrank=4),
        *_band(rating, "inner", settings.inner_half_width, widths.inner_half_width, colours, legendrank=3),
    ]


def _band(
    rating: Rating, name: str, width: float, half_width: float, colours: Palette, *, legendrank: int
) -> tuple[go.Scatter, go.Scatter]:
    edge = {"line": {"color": colours.band_edge, "width": 1}, "hoverinfo": "skip", "legendgroup": name}
    filled = {"fill": "tonexty", "fillcolor": getattr(colours, f"{name}_band"), "legendrank": legendrank}
    test = rating.pair.reference
    return (
        _curve(rating, test - half_width, name=f"{name} corridor, lower edge", showlegend=False, **edge),
        _curve(rating, test + half_width, name=f"±{share(width)} corridor", **edge, **filled),
    )


def _curves(score: PairScore, colours: Palette) -> tuple[go.Scatter, go.Scatter]:
    pair = score.rating.pair
    shown = f"%{{y:.4g}} {_safe(unit_words(score.reference.unit))}"
    solid = {"color": colours.test, "width": 2.2}
    dashed = {"color": colours.model, "width": 2.2, "dash": "9px,3px"}
    return (
        _curve(score.rating, pair.reference, name="test", line=solid, hovertemplate=shown, legendrank=1),
        _curve(score.rating, pair.candidate, name="model", line=dashed, hovertemplate=shown, legendrank=2),
    )


def _sample_scores(rating: Rating, colours: Palette) -> go.Scatter:
    return _curve(
        rating,
        corridor_scores(rating.pair, rating.settings),
        name="corridor score",
        line={"color": colours.accent, "width": 1.5},
        fill="tozeroy",
        fillcolor=colours.outer_band,
        hovertemplate="%{y:.2f}",
        yaxis="y2",
        showlegend=False,
    )


def _curve(rating: Rating, values: Floats, **look: Any) -> go.Scatter:
    """Return a line of what must be drawn of a curve on the grid of the pair."""
    kept = kept_samples(values)
    return go.Scatter(
        x=(1e3 * rating.pair.time[kept]).astype(np.float32),
        y=values[kept].astype(np.float32),
        mode="lines",
        **look,
    )


def _layout(score: PairScore, colours: Palette) -> dict[str, Any]:
    rating = score.rating
    quantity = f"{channel_title(score.reference.channel)} [{unit_words(score.reference.unit)}]"
    interval = interval_words(rating)
    return {
        "height": HEIGHT,
        # A zoom is kept as long as channel and interval are.
        "uirevision": f"{score.reference.channel} {interval}",
        # One x axis for both panels: cursor and zoom are shared.
        "grid": {"rows": 2, "columns": 1, "subplots": [["xy"], ["xy2"]]},
        "hovermode": "x unified",
        "hoversubplots": "axis",
        "legend": {"orientation": "h", "x": 0, "xanchor": "left", "y": 1.015, "yanchor": "bottom"},
        "margin": {"l": 68, "r": 14, "t": 28, "b": 50},
        "xaxis": {
            **_axis(f"time [ms] · interval of evaluation {interval}", colours),
            "anchor": "y2",
            "range": [1e3 * rating.pair.time[0], 1e3 * rating.pair.time[-1]],
            "unifiedhovertitle": {"text": "%{x:.2f} ms"},
            "showspikes": True,
            "spikemode": "across",
            "spikethickness": 1,
            "spikedash": "solid",
            "spikecolor": colours.edge,
        },
        "yaxis": {**_axis(_safe(quantity), colours), "domain": _CURVES, "zeroline": True},
        "yaxis2": {
            **_axis("corridor<br>score [1]", colours),
            "domain": _SCORES,
            "range": [0, 1.05],
            "tickvals": [0, 0.5, 1],
            "fixedrange": True,
        },
    }


def _axis(title: str, colours: Palette) -> dict[str, Any]:
    return {
        "title": {"text": title, "font": {"color": colours.muted, "size": 13}, "standoff": 12},
        "gridcolor": colours.rule,
        "linecolor": colours.edge,
        "tickcolor": colours.edge,
        "tickfont": {"color": colours.muted},
        "zeroline": False,
        "zerolinecolor": colours.edge,
        "zerolinewidth": 1,
    }


def _safe(text: str) -> str:
    """Keep a text of a file from being read as markup by the drawing library."""
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")
