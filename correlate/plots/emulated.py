"""Figures of emulated curves, of their sensitivity over time, and of predictions against results."""

from __future__ import annotations

from base64 import b64encode
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np
import plotly.graph_objects as go

from correlate.plots.graph import new_figure, one_panel, safe, time_line
from correlate.plots.palette import palette
from correlate.plots.wording import channel_title, unit_words
from correlate.samples import kept_samples

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from correlate.plots.palette import Palette, Theme
    from correlate.tuning.calibration import KeptPrediction
    from correlate.tuning.curve_sensitivity import CurveSensitivity
    from correlate.tuning.emulated import EmulatedCurve
    from correlate.tuning.traces import TraceChannel

    Floats = NDArray[np.float64]


CURVE_HEIGHT: Final = 560
"""Of the figure of a curve, in pixels."""
EMULATED_TRACES: Final = 3
"""The first traces of the figure: both edges of the band, and the curve."""


def emulated_figure(
    channel: TraceChannel,
    said: EmulatedCurve,
    start: Floats | None,
    best: Floats | None,
    *,
    theme: Theme = "light",
) -> go.Figure:
    """Draw an emulated curve in front of the tests and of two runs.

    Parameters
    ----------
    channel
        What is drawn.
    said
        The emulated curve.
    start, best
        Curves of the run at the start point and of the best run, shape ``(t,)``; None for no such run.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Figure
        The first :data:`EMULATED_TRACES` traces are those of :func:`emulated_lines`. The range of
        the axis is fixed while the curve moves.
    """
    colours = palette(theme)
    runs = (
        ("run at the start point", start, {"color": colours.muted, "width": 1.4, "dash": "5px,3px"}),
        ("best run", best, {"color": colours.accent, "width": 1.6, "dash": "11px,3px,2px,3px"}),
    )
    traces = [
        *_moving(said, colours),
        *(
            time_line(
                channel.time,
                test,
                name="tests",
                legendgroup="tests",
                showlegend=place == 0,
                line={"color": colours.test, "width": 1},
                opacity=0.75,
                text=safe(name),
                hovertemplate="%{text}: %{y:.4g}<extra></extra>",
                zorder=1,
            )
            for place, (name, test) in enumerate(channel.tests.items())
        ),
        *(
            time_line(channel.time, curve, name=name, line=line, hoverinfo="skip", zorder=2)
            for name, curve, line in runs
            if curve is not None
        ),
    ]
    y_title = f"{channel_title(channel.channel)} [{unit_words(channel.unit)}]"
    layout = one_panel(colours, height=CURVE_HEIGHT, x_title="time [ms]", y_title=y_title)
    known = [said.low, said.high, *channel.tests.values(), *(one for one in (start, best) if one is not None)]
    low, high = min(float(one.min()) for one in known), max(float(one.max()) for one in known)
    room = 0.08 * (high - low) or 1.0
    layout["margin"] |= {"t": 56}
    layout["yaxis"] |= {"range": [low - room, high + room]}
    layout["xaxis"] |= {"range": [1e3 * float(channel.time[0]), 1e3 * float(channel.time[-1])]}
    return new_figure(traces, layout, colours=colours)


def emulated_lines(said: EmulatedCurve) -> list[dict[str, Any]]:
    """Return ``x`` and ``y`` of the traces that follow a slider, in their order, packed to be sent alone.

    Built without figures, which take longer than the emulator itself.
    """
    found = []
    for values in (said.low, said.high, said.mean):
        kept = kept_samples(values)
        found.append({"x": _packed(1e3 * said.time[kept]), "y": _packed(values[kept])})
    return found


def _packed(values: Floats) -> dict[str, str]:
    return {"dtype": "f4", "bdata": b64encode(values.astype("<f4").tobytes()).decode("ascii")}


def _moving(said: EmulatedCurve, colours: Palette) -> list[go.Scatter]:
    edge = {"line": {"color": colours.band_edge, "width": 1}, "hoverinfo": "skip", "zorder": 0}
    return [
        time_line(said.time, said.low, showlegend=False, **edge),
        time_line(
            said.time,
            said.high,
            name="95 % interval of a new run",
            fill="tonexty",
            fillcolor=colours.outer_band,
            **edge,
        ),
        time_line(
            said.time,
            said.mean,
            name="emulated curve",
            line={"color": colours.model, "width": 2.6},
            hovertemplate="emulated: %{y:.4g} at %{x:.2f} ms<extra></extra>",
            zorder=3,
        ),
    ]


Shown = Literal["share", "change"]
ROW: Final = 30
"""Height of a row, in pixels."""
LEAST_SHARE: Final = 0.05
"""Parameters that explain less than this share of the variance at all times are not drawn."""
_AROUND: Final = 250
_UPPER: Final = 110


def drawn_parameters(found: CurveSensitivity) -> list[int]:
    """Return the columns of the parameters that are drawn, the most influential first."""
    largest = np.nan_to_num(found.first).max(axis=1, initial=0.0)
    return [place for place in found.order if largest[place] >= LEAST_SHARE]


def curve_sensitivity_figure(
    found: CurveSensitivity, names: Sequence[str], unit: str, shown: Shown, *, theme: Theme = "light"
) -> go.Figure:
    """Draw the influence of each parameter on a curve over time.

    Parameters
    ----------
    found
        Of the channel.
    names
        Of the parameters.
    unit
        Of the channel.
    shown
        ``share``: the share of the variance that each parameter explains alone. ``change``: the change of the
        curve when the parameter goes from its lower to its upper bound.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Figure
        Above: the spread of the curve when all parameters vary. Below: a row for each of
        :func:`drawn_parameters`, the most influential at the top.
    """
    colours = palette(theme)
    places = drawn_parameters(found)[::-1]
    values, scale = _shades(found, places, unit, shown, colours)
    height = _AROUND + ROW * len(places)
    time_ms = (1e3 * found.time).astype(np.float32)
    spread = go.Scatter(
        x=time_ms,
        y=found.spread.astype(np.float32),
        mode="lines",
        line={"color": colours.test, "width": 2},
        showlegend=False,
        yaxis="y2",
        hovertemplate="spread %{y:.3g} at %{x:.2f} ms<extra></extra>",
    )
    word = "%{z:.2f} of the variance" if shown == "share" else f"%{{z:+.3g}} {safe(unit_words(unit))}"
    shades = go.Heatmap(
        x=time_ms,
        y=[safe(names[place]) for place in places],
        z=values.astype(np.float32),
        ygap=2,
        hoverongaps=False,
        hovertemplate=f"%{{y}}: {word} at %{{x:.2f}} ms<extra></extra>",
        **scale,
    )
    layout = one_panel(colours, height=height, x_title="time [ms]", y_title="")
    upper = _UPPER / (height - 92)
    above = one_panel(colours, height=height, x_title="", y_title=f"spread [{unit_words(unit)}]")["yaxis"]
    layout["yaxis"] |= {"domain": [0.0, 1.0 - upper - 0.06], "automargin": True, "showgrid": False}
    layout["yaxis2"] = above | {"domain": [1.0 - upper, 1.0], "rangemode": "tozero", "nticks": 4}
    layout["xaxis"] |= {"range": [float(time_ms[0]), float(time_ms[-1])], "showgrid": False}
    return new_figure([spread, shades], layout, colours=colours)


def _shades(
    found: CurveSensitivity, places: Sequence[int], unit: str, shown: Shown, colours: Palette
) -> tuple[Floats, dict[str, Any]]:
    """Return the values of the rows, and how they are shaded."""
    bar = {
        "thickness": 12,
        "outlinewidth": 0,
        "ticklen": 3,
        "tickfont": {"color": colours.muted},
        "y": 0,
        "yanchor": "bottom",
        "lenmode": "pixels",
        "len": max(90, ROW * len(places)),
        "nticks": 5,
    }
    if shown == "share":
        rising = [[0.0, colours.well], [0.5, colours.band_edge], [1.0, colours.test]]
        title = {"text": "share [1]", "side": "right", "font": {"color": colours.muted, "size": 12}}
        scale = {"zmin": 0.0, "zmax": 1.0, "colorscale": rising, "colorbar": {**bar, "title": title}}
        return found.first[places], scale
    values = found.change[places]
    largest = float(np.abs(values).max(initial=0.0)) or 1.0
    both = [[0.0, colours.accent], [0.5, colours.panel], [1.0, colours.model]]
    title = {
        "text": f"change [{unit_words(unit)}]",
        "side": "right",
        "font": {"color": colours.muted, "size": 12},
    }
    return values, {
        "zmin": -largest,
        "zmax": largest,
        "colorscale": both,
        "colorbar": {**bar, "title": title},
    }


PREDICTIONS_HEIGHT: Final = 320
"""Of the figure of predictions and results, in pixels."""


def kept_predictions_figure(found: Sequence[KeptPrediction], *, theme: Theme = "light") -> go.Figure:
    """Draw the difference of each run from its prediction, batch by batch.

    Parameters
    ----------
    found
        Predictions of one outcome, one or more, in the order of the batches.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Figure
        Rated minus predicted; bars are the 95 % intervals, runs outside them have another mark.
    """
    colours = palette(theme)
    names = [safe(f"{one.identity}") for one in found]
    rounds = [f"round {one.round}" for one in found]
    intervals = go.Scatter(
        x=[rounds, names],
        y=np.zeros(len(found)),
        mode="markers",
        name="95 % interval of the prediction",
        marker={"symbol": "line-ew", "size": 13, "line": {"color": colours.band_edge, "width": 2}},
        error_y={
            "type": "data",
            "symmetric": False,
            "array": [one.predicted.high - one.predicted.mean for one in found],
            "arrayminus": [one.predicted.mean - one.predicted.low for one in found],
            "color": colours.band_edge,
            "thickness": 2,
            "width": 6,
        },
        hoverinfo="skip",
    )
    looks: Mapping[bool, tuple[str, dict[str, Any]]] = {
        True: ("inside", {"color": colours.test, "size": 9}),
        False: ("outside", {"color": colours.model, "size": 11, "symbol": "x"}),
    }
    points = [
        go.Scatter(
            x=[[rounds[at] for at in rows], [names[at] for at in rows]],
            y=[found[at].error for at in rows],
            mode="markers",
            name=f"rated, {word} the interval",
            marker=marker,
            text=[
                f"{names[at]}: rated {found[at].rated:.3f}, predicted {found[at].predicted.mean:.3f}"
                for at in rows
            ],
            hovertemplate="%{text}<extra></extra>",
        )
        for held, (word, marker) in looks.items()
        if (rows := [at for at, one in enumerate(found) if one.inside == held])
    ]
    title = f"{found[0].outcome}: rated minus predicted"
    layout = one_panel(colours, height=PREDICTIONS_HEIGHT, x_title="run, by round", y_title=title)
    layout["margin"] |= {"b": 76}  # two lines of names
    layout["xaxis"] |= {"dividercolor": colours.rule, "showgrid": False}
    layout["yaxis"] |= {"zeroline": True, "zerolinecolor": colours.edge}
    return new_figure([intervals, *points], layout, colours=colours)
