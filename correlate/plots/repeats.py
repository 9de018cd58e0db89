"""Figures of the laboratory: repeats with corridor, cross plot, windows, findings."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import plotly.graph_objects as go

from correlate.plots.graph import band, new_figure, one_panel, safe, time_line
from correlate.plots.palette import palette, repeat_colours
from correlate.plots.wording import channel_title, unit_words

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from correlate.criteria import QuantityVerdict
    from correlate.plots.palette import Palette, Theme
    from correlate.reference.arc_length import CrossPlot
    from correlate.reference.corridor import Corridor
    from correlate.reference.cross_plot import CrossPlotCorridor
    from correlate.reference.finding import Finding
    from correlate.reference.repeats import RepeatSet
    from correlate.signal import Signal

    Floats = NDArray[np.float64]


CROSS_PLOT_HEIGHT: Final = 460
"""Of the figure, in pixels."""
_GRID: Final = 160
_MARGIN: Final = 0.12


def cross_plot_figure(
    corridor: CrossPlotCorridor,
    paths: Sequence[CrossPlot],
    *,
    theme: Theme = "light",
    x_title: str,
    y_title: str,
    model: CrossPlot | None = None,
) -> go.Figure:
    """Draw cross-plots in their corridor.

    Parameters
    ----------
    corridor
        Of the repeats.
    paths
        The repeats.
    theme
        ``light`` or ``dark``.
    x_title, y_title
        With units.
    model
        None for none.

    Returns
    -------
    plotly.graph_objects.Figure
        The edge of the corridor is the contour of its depth at 1.
    """
    colours = palette(theme)
    thin = {"color": colours.edge, "width": 1}
    traces = [
        _area(corridor, colours),
        *(_line(path.x, path.y, name="repeat", line=thin, showlegend=False) for path in paths),
        _line(corridor.x, corridor.y, name="mean of the repeats", line={"color": colours.test, "width": 2.4}),
    ]
    if model is not None:
        dashed = {"color": colours.model, "width": 2.2, "dash": "9px,3px"}
        traces.append(_line(model.x, model.y, name="model", line=dashed))
    layout = one_panel(colours, height=CROSS_PLOT_HEIGHT, x_title=x_title, y_title=y_title)
    return new_figure(traces, layout, colours=colours)


def _line(x: Floats, y: Floats, **style: Any) -> go.Scatter:
    return go.Scatter(x=x.astype(np.float32), y=y.astype(np.float32), mode="lines", **style)


def _area(corridor: CrossPlotCorridor, colours: Palette) -> go.Contour:
    """Return the swept area: where the depth, capped at 2, is at most 1."""
    x = _span(corridor.x, corridor.x_half)
    y = _span(corridor.y, corridor.y_half)
    depth = np.minimum(corridor.depth_on_grid(x, y), 2.0)
    return go.Contour(
        x=x.astype(np.float32),
        y=y.astype(np.float32),
        z=depth.astype(np.float32),
        # The library fills where the condition does not hold.
        contours={"type": "constraint", "operation": ">=", "value": 1.0, "showlabels": False},
        fillcolor=colours.inner_band,
        line={"color": colours.band_edge, "width": 1},
        showscale=False,
        hoverinfo="skip",
        name=f"± {corridor.times:g} SD along the arc",
        showlegend=True,
    )


def _span(centre: Floats, half: Floats) -> Floats:
    low, high = float((centre - half).min()), float((centre + half).max())
    margin = _MARGIN * (high - low or 1.0)
    return np.linspace(low - margin, high + margin, _GRID)


_ROOM: Final = 0.08


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowStrip:
    """A strip that holds a window and all values, as shares of its length.

    Attributes
    ----------
    low, high
        Ends of the window.
    marks
        One a value, in their order; None where nothing was measured.
    """

    low: float
    high: float
    marks: tuple[float | None, ...]


def window_strip(verdicts: Sequence[QuantityVerdict]) -> WindowStrip:
    """Return where window and values lie.

    Parameters
    ----------
    verdicts
        Of one quantity, one per recording.

    Returns
    -------
    WindowStrip
        The window takes at least a part of the strip, however far away a value is.
    """
    low, high = verdicts[0].low, verdicts[0].high
    values = [verdict.value for verdict in verdicts]
    known = [value for value in values if value is not None]
    start, end = min([low, *known]), max([high, *known])
    room = _ROOM * (end - start or 1.0)
    start, length = start - room, (end - start or 1.0) + 2 * room

    def place(value: float) -> float:
        return (value - start) / length

    marks = tuple(None if value is None else place(value) for value in values)
    return WindowStrip(low=place(low), high=place(high), marks=marks)


HEIGHT: Final = 280
"""Of the figure, in pixels."""
_LEAST_SHARE: Final = 0.004
"""A span is drawn at least this share of the record wide, so that one sample can be seen."""


def finding_figure(
    finding: Finding, signal: Signal, *, theme: Theme = "light", others: Sequence[Signal] = ()
) -> go.Figure:
    """Draw the channel of a finding.

    Parameters
    ----------
    finding
        Of the data check.
    signal
        Its channel, as recorded.
    theme
        ``light`` or ``dark``.
    others
        The same channel in other repeats, of the same unit, drawn thin.

    Returns
    -------
    plotly.graph_objects.Figure
    """
    colours = palette(theme)
    thin = {"color": colours.edge, "width": 1}
    traces = [
        time_line(
            other.time_s,
            other.samples,
            name="other repeats",
            legendgroup="others",
            showlegend=number == 0,
            line=thin,
        )
        for number, other in enumerate(others)
    ]
    bold = {"color": colours.test, "width": 1.8}
    traces.append(time_line(signal.time_s, signal.samples, name="this channel", line=bold))
    quantity = f"{channel_title(signal.channel)} [{unit_words(signal.unit)}]"
    layout = one_panel(colours, height=HEIGHT, x_title="time [ms]", y_title=quantity)
    return new_figure(traces, {**layout, "shapes": _span_finding(finding, signal, colours)}, colours=colours)


def _span_finding(finding: Finding, signal: Signal, colours: Palette) -> list[dict[str, Any]]:
    """Return a marked stretch of time, or nothing where the finding has none."""
    if finding.start_s is None or finding.end_s is None:
        return []
    least = _LEAST_SHARE * (signal.end_s - signal.start_s)
    widen = max(0.0, least - (finding.end_s - finding.start_s)) / 2
    return [
        {
            "type": "rect",
            "xref": "x",
            "yref": "paper",
            "x0": (finding.start_s - widen) * 1e3,
            "x1": (finding.end_s + widen) * 1e3,
            "y0": 0,
            "y1": 1,
            "fillcolor": colours.alert_panel,
            "line": {"color": colours.alert, "width": 1},
            "layer": "below",
        }
    ]


REPEATS_HEIGHT: Final = 400
"""Of the figure, in pixels."""


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatLine:
    """How one repeat is drawn.

    Attributes
    ----------
    name
        Of the repeat.
    fault
        What the data check says against it, in a few words; empty where it says nothing.
    is_shown
        Whether it is drawn.
    is_picked
        Whether it is drawn in front of the others, which are pale then.
    """

    name: str
    fault: str = ""
    is_shown: bool = True
    is_picked: bool = False


def repeats_figure(
    repeats: RepeatSet,
    *,
    theme: Theme = "light",
    corridor: Corridor | None = None,
    model: Signal | None = None,
    lines: Sequence[RepeatLine] = (),
) -> go.Figure:
    """Draw the repeats of one channel.

    Parameters
    ----------
    repeats
        Aligned.
    theme
        ``light`` or ``dark``.
    corridor
        Drawn as a band; None for none.
    model
        On the grid and in the unit of the repeats; None for none.
    lines
        One a repeat, for a page that lists their names beside the figure; left out: the repeats are thin
        lines of one colour.

    Returns
    -------
    plotly.graph_objects.Figure
        Corridor and mean are of all repeats, whichever are shown.
    """
    colours = palette(theme)
    traces = list(_named_repeats(repeats, lines, theme) if lines else _repeats(repeats, colours))
    if corridor is not None:
        edges = band(corridor.time_s, corridor.lower, corridor.upper, name=corridor.kind, colours=colours)
        traces = [*edges, *traces]
    mean_line = {"color": colours.test, "width": 2.4}
    traces.append(time_line(repeats.time_s, repeats.mean, name="mean of the repeats", line=mean_line))
    if model is not None:
        traces.append(_model(model, repeats, colours))
    quantity = f"{channel_title(repeats.channel)} [{unit_words(repeats.unit)}]"
    layout = one_panel(colours, height=REPEATS_HEIGHT, x_title="time [ms]", y_title=quantity)
    marks = [
        _fault_mark(repeats, number, line, colours)
        for number, line in enumerate(lines)
        if line.fault and line.is_shown
    ]
    return new_figure(traces, {**layout, "annotations": marks}, colours=colours)


_FAULTY_DASH: Final = "5px,4px"
_PALE: Final = 0.35


def _named_repeats(repeats: RepeatSet, lines: Sequence[RepeatLine], theme: Theme) -> Iterator[go.Scatter]:
    """Yield the repeats that are shown, a faulty one dashed and wide, the highlighted one in front."""
    colours, taken = palette(theme), repeat_colours(theme)
    any_picked = any(line.is_picked and line.is_shown for line in lines)
    for number, line in sorted(enumerate(lines), key=lambda item: item[1].is_picked):
        if not line.is_shown:
            continue
        pen: dict[str, Any] = {"color": taken[number % len(taken)], "width": 1.4}
        if line.fault:
            pen = {"color": colours.alert, "width": 2.2, "dash": _FAULTY_DASH}
        if line.is_picked:
            pen["width"] = 3.4
        shift_ms = repeats.shifts_s[number] * 1e3
        moved = f", moved by {shift_ms:.3g} ms" if shift_ms else ""
        faulty = f", {line.fault}" if line.fault else ""
        yield time_line(
            repeats.time_s,
            repeats.curves[number],
            name=safe(f"{line.name}{faulty}{moved}"),
            line=pen,
            opacity=_PALE if any_picked and not line.is_picked else 1.0,
            # The page that gives names lists them itself: a drawn legend of many names covers the curves.
            showlegend=False,
        )


def _fault_mark(repeats: RepeatSet, number: int, line: RepeatLine, colours: Palette) -> dict[str, Any]:
    """Return the name of a faulty repeat at its largest distance from the mean."""
    curve = repeats.curves[number]
    place = int(np.abs(curve - repeats.mean).argmax())
    return {
        "x": float(repeats.time_s[place]) * 1e3,
        "y": float(curve[place]),
        "text": safe(f"{line.name}: {line.fault}"),
        "font": {"color": colours.alert, "size": 12},
        "bgcolor": colours.alert_panel,
        "bordercolor": colours.alert,
        "borderpad": 3,
        "arrowcolor": colours.alert,
        "arrowwidth": 1,
        "arrowhead": 0,
        "ax": 28,
        "ay": -28,
    }


def _repeats(repeats: RepeatSet, colours: Palette) -> Iterator[go.Scatter]:
    line = {"color": colours.edge, "width": 1}
    for number, (curve, shift_s) in enumerate(zip(repeats.curves, repeats.shifts_s, strict=True), start=1):
        moved = f", moved by {shift_s * 1e3:.3g} ms" if shift_s else ""
        yield time_line(repeats.time_s, curve, name=f"repeat {number}{moved}", showlegend=False, line=line)


def _model(model: Signal, repeats: RepeatSet, colours: Palette) -> go.Scatter:
    time_s = model.time_s
    inside = (time_s >= repeats.time_s[0] - 1e-9) & (time_s <= repeats.time_s[-1] + 1e-9)
    line = {"color": colours.model, "width": 2.2, "dash": "9px,3px"}
    return time_line(time_s[inside], model.samples[inside], name="model", line=line)
