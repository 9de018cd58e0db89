"""A pair as one of many small figures: curves in their corridors, and nothing that its neighbours repeat."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from correlate.plots.graph import new_figure, one_panel, time_line
from correlate.plots.palette import palette
from correlate.plots.wording import unit_words
from correlate.samples import kept_samples

if TYPE_CHECKING:
    from collections.abc import Iterator

    import plotly.graph_objects as go
    from numpy.typing import NDArray

    from correlate.campaign import PairScore
    from correlate.plots.palette import Palette, Theme

SMALL_HEIGHT: Final = 130
"""Of the figure, in pixels."""
_COLUMNS: Final = 300
"""Pixel columns that a curve is reduced to."""
_LETTERS: Final = 12


def small_pair_figure(score: PairScore, *, theme: Theme = "light") -> go.Figure:
    """Draw test and model of a pair in both corridors, without legend.

    Parameters
    ----------
    score
        Of the pair.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Figure
        Colours and lines are those of :func:`correlate.plots.pair_figure`, whose legend explains them.
    """
    colours = palette(theme)
    rating = score.rating
    pair = rating.pair
    dashed = {"color": colours.model, "width": 2, "dash": "9px,3px"}
    traces = [
        *_corridors(score, colours),
        _line(pair.time, pair.reference, name="test", line={"color": colours.test, "width": 2}),
        _line(pair.time, pair.candidate, name="model", line=dashed),
    ]
    plain = one_panel(
        colours, height=SMALL_HEIGHT, x_title="time [ms]", y_title=f"[{unit_words(score.reference.unit)}]"
    )
    small: dict[str, Any] = {"size": _LETTERS, "color": colours.muted}
    axes = {
        "xaxis": {**plain["xaxis"], "range": [1e3 * pair.time[0], 1e3 * pair.time[-1]], "nticks": 5},
        "yaxis": {**plain["yaxis"], "nticks": 5, "zeroline": True, "zerolinecolor": colours.edge},
    }
    for axis in axes.values():
        axis |= {"title": {**axis["title"], "font": small}, "tickfont": small}
    layout = {**plain, **axes, "margin": {"l": 62, "r": 12, "t": 8, "b": 36}, "showlegend": False}
    figure = new_figure(traces, layout, colours=colours)
    figure.layout.font.size = _LETTERS
    return figure


def _corridors(score: PairScore, colours: Palette) -> Iterator[go.Scatter]:
    rating = score.rating
    widths, test = rating.ingredients.corridor, rating.pair.reference
    edge = {"line": {"color": colours.band_edge, "width": 0.8}}
    for half, colour in (
        (widths.outer_half_width, colours.outer_band),
        (widths.inner_half_width, colours.inner_band),
    ):
        yield _line(rating.pair.time, test - half, **edge)
        yield _line(rating.pair.time, test + half, fill="tonexty", fillcolor=colour, **edge)


def _line(time: NDArray[Any], values: NDArray[Any], **look: Any) -> go.Scatter:
    kept = kept_samples(values, _COLUMNS)
    return time_line(time[kept], values[kept], **look)
