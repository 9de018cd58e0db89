"""The picture of a channel to work with: repeats, releases overlaid, scatter of the tests, loss over time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import plotly.graph_objects as go

from correlate.plots.graph import new_figure, safe
from correlate.plots.loss import loss_bars, warping_links
from correlate.plots.pair import bin_width, kept_in_window, pair_axes, within
from correlate.plots.palette import palette
from correlate.plots.wording import share, unit_words

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from correlate.campaign.channel_rating import ChannelRating, MeanRating
    from correlate.diagnosis.accounting import LossAccount
    from correlate.plots.palette import Palette, Theme
    from correlate.reference.repeats import RepeatSet

    Floats = NDArray[np.float64]
    Window = tuple[float, float]

CURVE_COLUMNS: Final = 1200
"""Pixel columns that a curve is reduced to, within the time that is looked at."""
BAND_COLUMNS: Final = 500
"""The same of the edge of a band, which is smooth."""
MOST_OTHERS: Final = 3
"""Releases that can be drawn over the first."""
CHANGED_TRACE: Final = 0
"""Place of the changed curve among the traces, so that it alone can be sent again."""

_DASHES: Final = ("2px,3px", "9px,3px,2px,3px", "14px,4px")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PairView:
    """What is drawn.

    Attributes
    ----------
    release
        Name of the model.
    rated
        Against one repeat of the test, or against all of them.
    account
        Of its loss.
    others
        Further releases, by name, rated against the same tests.
    changed
        Rating of the model's curve after a change; None where nothing is changed.
    repeats
        Whether the curve of every repeat is drawn beside their mean.
    spread
        Range of all repeats of the test where each was recorded, for one of them; None to leave it out.
    corridors, links
        Whether the corridors of the rating and the warping links are drawn.
    window_s
        Start and end of the time that is looked at, s; None for all of it.
    """

    release: str
    rated: ChannelRating
    account: LossAccount
    others: dict[str, ChannelRating]
    changed: MeanRating | None = None
    repeats: bool = True
    spread: RepeatSet | None = None
    corridors: bool = True
    links: bool = False
    window_s: Window | None = None


def pair_view_figure(view: PairView, *, theme: Theme = "light") -> go.Figure:
    """Draw a channel to work with.

    Parameters
    ----------
    view
        What is drawn.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Figure
        Above: the curves in their unit; of several repeats their mean, and each of them as a thin line. The
        corridors around a mean are the mean of those around the repeats. Below: rating points lost, a bin of
        time each, stacked by component.
        One time axis in ms. Long curves are reduced to the extremes of every pixel column of the time that
        is looked at, and of fewer columns outside of it. The first trace is the changed curve.
    """
    colours = palette(theme)
    traces = [
        changed_trace(view.changed, view.window_s, theme=theme),
        *_bands(view, colours),
        *_repeats(view, colours),
        *_models(view, colours),
        _line(view.rated.test, view, name=_test_name(view), line=_solid(colours), legendrank=1),
        *_bars(view, theme),
    ]
    axes = pair_axes(view.rated.first, view.release, view.window_s, colours=colours)
    return new_figure(traces, axes, colours=colours)


def changed_trace(changed: MeanRating | None, window_s: Window | None, *, theme: Theme) -> go.Scatter:
    """Return the curve of a model after a change, to stand at :data:`CHANGED_TRACE`.

    Parameters
    ----------
    changed
        Its rating; None for a curve without points.
    window_s
        The time that is looked at, s.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Scatter
        Drawn above all others.
    """
    line = {"color": palette(theme).model, "width": 3.2}
    look = {"name": "model, changed", "line": line, "legendrank": 2, "zorder": 2, "hoverinfo": "skip"}
    if changed is None:
        return go.Scatter(x=[], y=[], mode="lines", showlegend=False, **look)
    # The same curve in every pair: what is changed is the model.
    pair = next(iter(changed.ratings.values())).pair
    return _reduced(pair.time, pair.candidate, window_s, CURVE_COLUMNS, showlegend=True, **look)


def packed(trace: go.Scatter, *, theme: Theme) -> dict[str, Any]:
    """Return a trace as it is sent alone, its numbers packed as in a whole figure."""
    traces: list[dict[str, Any]] = new_figure([trace], {}, colours=palette(theme)).to_plotly_json()["data"]
    return traces[0]


def _solid(colours: Palette) -> dict[str, Any]:
    return {"color": colours.test, "width": 2.2}


def _bands(view: PairView, colours: Palette) -> Iterator[go.Scatter]:
    rated, test = view.rated, view.rated.test
    if view.corridors:
        for name, rank in (("outer", 8), ("inner", 7)):
            look = {"fillcolor": getattr(colours, f"{name}_band"), "legendrank": rank}
            half, part = rated.half_width(name), getattr(rated.rating.settings, f"{name}_half_width")
            edges = (rated.time, test - half, test + half)
            yield from _band(view, edges, f"±{share(part)} corridor", colours.band_edge, look)
    if view.spread is not None:
        hatch = {"shape": "/", "fgcolor": colours.muted, "size": 7, "solidity": 0.12, "fillmode": "replace"}
        look = {"fillpattern": hatch, "legendrank": 6}
        edges = (view.spread.time_s, view.spread.smallest, view.spread.largest)
        yield from _band(view, edges, f"all {len(view.spread)} repeats", colours.muted, look)
    if view.links:
        links = warping_links(rated.shown.rating, colours=colours, window_s=view.window_s)
        yield links.update(name=f"{links.name}{_with_repeat(rated)}")


def _with_repeat(rated: ChannelRating) -> str:
    """Name the repeat whose pair represents all of them; empty where there is one."""
    return f", {safe(rated.typical)}" if len(rated.scores) > 1 else ""


def _test_name(view: PairView) -> str:
    count = len(view.rated.scores)
    return f"test, mean of {count}" if count > 1 else "test"


def _repeats(view: PairView, colours: Palette) -> Iterator[go.Scatter]:
    """Draw each of several repeats; they share one entry of the legend."""
    tests = view.rated.tests
    if not view.repeats or len(tests) == 1:
        return
    line = {"color": colours.test, "width": 1}
    both = {"line": line, "opacity": 0.55, "hoverinfo": "skip", "legendgroup": "repeats", "legendrank": 6}
    for number, (repeat, curve) in enumerate(tests.items()):
        name = f"each of {len(tests)} repeats" if number == 0 else f"repeat {safe(repeat)}"
        yield _line(curve, view, name=name, showlegend=number == 0, **both)


def _band(
    view: PairView, edges: tuple[Floats, Floats, Floats], name: str, edge: str, look: dict[str, Any]
) -> Iterator[go.Scatter]:
    time, lower, upper = edges
    both = {"line": {"color": edge, "width": 1}, "hoverinfo": "skip", "legendgroup": name}
    window = view.window_s
    yield _reduced(time, lower, window, BAND_COLUMNS, name=f"{name}, lower edge", showlegend=False, **both)
    yield _reduced(time, upper, window, BAND_COLUMNS, name=name, fill="tonexty", **both, **look)


def _models(view: PairView, colours: Palette) -> Iterator[go.Scatter]:
    further = (colours.second_model, colours.third_model, colours.fourth_model)
    looks = zip(further, _DASHES, strict=True)
    for number, ((name, rated), (colour, dash)) in enumerate(zip(view.others.items(), looks, strict=False)):
        line = {"color": colour, "width": 2, "dash": dash}
        yield _line(rated.model, view, name=f"model {safe(name)}", line=line, legendrank=4 + number)
    line = {"color": colours.model, "width": 2.2, "dash": "9px,3px"}
    yield _line(view.rated.model, view, name=f"model {safe(view.release)}", line=line, legendrank=3)


def _line(values: Floats, view: PairView, **look: Any) -> go.Scatter:
    shown = f"%{{y:.4g}} {safe(unit_words(view.rated.unit))}"
    look = {"hovertemplate": shown} | look if "hoverinfo" not in look else look
    return _reduced(view.rated.time, values, view.window_s, CURVE_COLUMNS, **look)


def _reduced(time: Floats, values: Floats, window_s: Window | None, columns: int, **look: Any) -> go.Scatter:
    kept = kept_in_window(time, values, window_s, columns)
    return go.Scatter(
        x=(1e3 * time[kept]).astype(np.float32), y=values[kept].astype(np.float32), mode="lines", **look
    )


def _bars(view: PairView, theme: Theme) -> tuple[go.Bar, ...]:
    account = within(view.account, view.window_s)
    step_s = view.rated.first.rating.pair.step_s
    width_s = bin_width(account)
    bars = loss_bars(account, theme=theme, width_s=max(width_s, step_s), yaxis="y2", legend="legend2")
    for bar in bars:
        bar.legendgroup = "loss"
    return bars
