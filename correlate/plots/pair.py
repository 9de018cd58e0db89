"""Figures of a pair: curves with corridors, axes, window."""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import plotly.graph_objects as go

from correlate.metrics.iso18571.scores import corridor_scores
from correlate.plots.graph import new_figure, one_panel, safe
from correlate.plots.palette import palette
from correlate.plots.wording import channel_title, interval_words, share, unit_words
from correlate.samples import kept_samples

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from correlate.campaign import PairScore
    from correlate.diagnosis.accounting import LossAccount
    from correlate.diagnosis.what_if import CurveChange
    from correlate.metrics.iso18571 import Rating
    from correlate.plots.palette import Palette, Theme
    from correlate.signal import Signal

    Floats = NDArray[np.float64]


HEIGHT: Final = 560
"""Of the figure, in pixels."""
_CURVES: Final = (0.31, 1.0)
_LOSS: Final = (0.0, 0.19)


def pair_axes(
    score: PairScore, release: str, window_s: tuple[float, float] | None, *, colours: Palette
) -> dict[str, Any]:
    """Return axes and legends."""
    reference, time = score.reference, score.rating.pair.time
    quantity = f"{channel_title(reference.channel)} [{unit_words(reference.unit)}]"
    interval = interval_words(score.rating)
    shown = f"{reference.channel} {interval}"
    looked_at = window_s or (float(time[0]), float(time[-1]))
    plain = one_panel(colours, height=HEIGHT, x_title=f"time [ms] · rated {interval}", y_title=quantity)
    heights = {"zeroline": True, "zerolinecolor": colours.edge, "zerolinewidth": 1, "uirevision": shown}
    return {
        **plain,
        # The time that is looked at is part of the address; heights and hidden curves are the reader's.
        "uirevision": f"{shown} {looked_at}",
        # One x axis for both panels: cursor and zoom are shared.
        "grid": {"rows": 2, "columns": 1, "subplots": [["xy"], ["xy2"]]},
        "hovermode": "x unified",
        "hoversubplots": "axis",
        "barmode": "stack",
        "margin": {"l": 72, "r": 14, "t": 28, "b": 50},
        "xaxis": {
            **plain["xaxis"],
            "anchor": "y2",
            "range": [1e3 * end for end in looked_at],
            "unifiedhovertitle": {"text": "%{x:.2f} ms"},
            "showspikes": True,
            "spikemode": "across",
            "spikethickness": 1,
            "spikedash": "solid",
            "spikecolor": colours.edge,
        },
        "yaxis": {**plain["yaxis"], **heights, "domain": _CURVES},
        "yaxis2": {
            **plain["yaxis"],
            "title": {**plain["yaxis"]["title"], "text": "lost [1]"},
            "domain": _LOSS,
            "nticks": 3,
            "rangemode": "tozero",
            "fixedrange": True,
        },
        **_legends(release, shown, colours),
    }


def _legends(release: str, shown: str, colours: Palette) -> dict[str, Any]:
    """Return a legend of the curves above them, and one of the components above the loss."""
    legend = {"orientation": "h", "x": 0, "xanchor": "left", "yanchor": "bottom", "traceorder": "normal"}
    title = {"text": f"{safe(release)} loses by ", "font": {"size": 13, "color": colours.muted}}
    return {
        "legend": {**legend, "y": 1.015, "uirevision": shown, "font": {"size": 12.5}},
        "legend2": {**legend, "y": _LOSS[1] + 0.005, "uirevision": shown, "title": title},
    }


_STEPS: Final = 400
"""About as many positions as a slider has pixels."""
_SCALES: Final = (0.5, 1.5)
_SCALE_STEP: Final = 0.005
_OFFSET_SHARE: Final = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """Ends and step of a slider.

    Attributes
    ----------
    low, high, step
        In the unit of the slider.
    """

    low: float
    high: float
    step: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeReach:
    """The sliders that change the curve of a model.

    Attributes
    ----------
    shift_ms
        In ms.
    scale
        A factor.
    offset
        In the unit of the pair.
    """

    shift_ms: Reach
    scale: Reach
    offset: Reach


def change_reach(score: PairScore, change: CurveChange) -> ChangeReach:
    """Return how far a curve may be changed.

    Parameters
    ----------
    score
        Of the pair.
    change
        Present one; a slider reaches at least so far.

    Returns
    -------
    ChangeReach
        Shift as far as the phase score looks, scale by half, offset by half of the test's largest value.
    """
    rating = score.rating
    duration_s = rating.pair.step_s * rating.samples
    largest = float(np.abs(rating.pair.reference).max())
    low, high = _SCALES
    return ChangeReach(
        shift_ms=_symmetric(1e3 * rating.settings.largest_shift * duration_s, 1e3 * abs(change.shift_s)),
        scale=Reach(low=min(low, change.scale), high=max(high, change.scale), step=_SCALE_STEP),
        offset=_symmetric(_OFFSET_SHARE * largest, abs(change.offset)),
    )


def interval_reach(signals: Sequence[Signal]) -> Reach:
    """Return the time that all signals cover, in ms.

    Parameters
    ----------
    signals
        Tests and model, conditioned, not yet cut to the interval; on one grid.

    Returns
    -------
    Reach
        In whole steps, inside of what all cover.
    """
    start_s = max(one.start_s for one in signals)
    end_s = min(one.end_s for one in signals)
    step_ms = 1e3 * signals[0].step_s
    # A hair wider, so that rounding does not cost a step.
    first, last = math.ceil(1e3 * start_s / step_ms - 1e-6), math.floor(1e3 * end_s / step_ms + 1e-6)
    return Reach(low=_digits(first * step_ms), high=_digits(last * step_ms), step=_digits(step_ms))


def round_step(width: float) -> float:
    """Return the least of 1, 2, 5 times a power of ten that is not below a width.

    Examples
    --------
    >>> round_step(0.03), round_step(2.0), round_step(7.0)
    (0.05, 2.0, 10.0)
    """
    power = 10.0 ** math.floor(math.log10(width))
    return _digits(next(times * power for times in (1, 2, 5, 10) if times * power >= width * (1 - 1e-9)))


def _symmetric(reach: float, at_least: float) -> Reach:
    step = round_step(max(reach, at_least) / (_STEPS / 2))
    end = _digits(math.ceil(max(reach, at_least) / step - 1e-9) * step)
    return Reach(low=-end, high=end, step=step)


def _digits(value: float) -> float:
    """Drop the last digits, which are rounding."""
    return float(f"{value:.12g}")


OUTSIDE_COLUMNS: Final = 60
"""Pixel columns on either side of the time that is looked at, so that zooming out shows something at once."""
_BINS: Final = 120


def kept_in_window(
    time: Floats, values: Floats, window_s: tuple[float, float] | None, columns: int
) -> NDArray[np.intp]:
    """Choose the samples to draw: many of the time that is looked at, few of the rest."""
    if window_s is None or values.size <= 2 * columns + 2:
        return kept_samples(values, columns)
    # One sample more on either side, so that the lines reach the edge of the picture.
    first = max(int(np.searchsorted(time, window_s[0])) - 1, 0)
    end = min(int(np.searchsorted(time, window_s[1], side="right")) + 1, values.size)
    parts = ((0, first, OUTSIDE_COLUMNS), (first, end, columns), (end, values.size, OUTSIDE_COLUMNS))
    return np.concatenate(
        [begin + kept_samples(values[begin:stop], wide) for begin, stop, wide in parts if stop > begin]
    )


def bin_width(account: LossAccount) -> float:
    """Return the width of the bins of a loss account that suits a picture, s."""
    return round_step(float(account.time[-1] - account.time[0]) / min(_BINS, account.time.size - 1))


def within(account: LossAccount, window_s: tuple[float, float] | None) -> LossAccount:
    """Cut a loss account to the time that is looked at."""
    if window_s is None:
        return account
    inside = (account.time >= window_s[0] - 1e-9) & (account.time <= window_s[1] + 1e-9)
    if np.count_nonzero(inside) < 2:
        return account
    return replace(
        account,
        time=account.time[inside],
        by_sample={name: lost[inside] for name, lost in account.by_sample.items()},
    )


PAIR_HEIGHT: Final = 520
"""Of the figure, in pixels."""
_PAIR_CURVES: Final = (0.27, 1.0)
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
    shown = f"%{{y:.4g}} {safe(unit_words(score.reference.unit))}"
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
        "height": PAIR_HEIGHT,
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
        "yaxis": {**_axis(safe(quantity), colours), "domain": _PAIR_CURVES, "zeroline": True},
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
