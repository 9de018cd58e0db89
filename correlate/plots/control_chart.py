"""The control chart of a quantity of a qualification test: values, moving ranges, exchanged parts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from itertools import groupby
from textwrap import wrap
from typing import TYPE_CHECKING, Any, Final

import plotly.graph_objects as go

from correlate.laboratory.control_chart import RUN
from correlate.plots.graph import new_figure, one_panel, safe
from correlate.plots.laboratory_words import rounded, with_unit
from correlate.plots.palette import palette
from correlate.plots.sign_off_words import day_words
from correlate.plots.svg_marks import text_width
from correlate.plots.wording import unit_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.laboratory import Exchange, QuantityHistory
    from correlate.plots.palette import Palette, Theme

    Line = tuple[list[float | None], list[float | None]]


CONTROL_CHART_HEIGHT: Final = 470
"""Of the figure, in pixels."""
_VALUES: Final = (0.37, 1.0)
_RANGES: Final = (0.0, 0.25)
_BETWEEN: Final = (_RANGES[1] + _VALUES[0]) / 2
_NAMED: Final = 44
_PLAIN: Final = 16
"""Margin above the panels with and without names of exchanged parts, in pixels."""
_LABEL_SIZE: Final = 12
_LABEL_ROWS: Final = 2
_LABEL_LETTERS: Final = 22
_LEVEL_ROOM: Final = 0.06
"""Least distance of two figures beside the panel, as a share of its axis."""
_USUAL_WIDTH: Final = 760.0
"""Of the panel, in pixels, for the room that labels take."""
_ROOM: Final = 0.07
_FAR: Final = 2.0
"""Farther than so many times the span of values and limits, an end of the window is left out of the axis."""
_IN_RUN: Final = f"{RUN} in a row on one side"
_SYMBOLS: Final[dict[str, tuple[str, int]]] = {
    "outside the control limits": ("diamond-open", 19),
    _IN_RUN: ("triangle-up-open", 14),
    "outside the window": ("x-thin-open", 9),
    "moving range above its limit": ("diamond-open", 15),
}
"""Shape and size of every mark."""
_MOST_TICKS: Final = 6
_MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_MONTH_STEPS: Final = (1, 2, 3, 6, 12, 24, 60, 120)
_LEAST_DAYS: Final = 20


@dataclass(frozen=True, slots=True, kw_only=True)
class ChartKey:
    """How something is drawn in a control chart.

    Attributes
    ----------
    words
        What it is.
    colour
        As ``#rrggbb``.
    mark
        A letter of the shape of its mark; empty for a line.
    width, is_dashed
        Of its line.
    """

    words: str
    colour: str
    mark: str = ""
    width: float = 0.0
    is_dashed: bool = False


_LETTERS: Final = {"circle": "●", "diamond-open": "◇", "triangle-up-open": "△", "x-thin-open": "×"}


def control_chart_keys(figure: go.Figure) -> list[ChartKey]:
    """Return how everything in a control chart is drawn, for a legend in words.

    Parameters
    ----------
    figure
        From :func:`control_chart_figure`.

    Returns
    -------
    list of ChartKey
        Only what is in the figure, once each.
    """
    found: dict[str, ChartKey] = {}
    for trace in figure.data:
        if "markers" in trace.mode:
            letter = _LETTERS[trace.marker.symbol]
            key = ChartKey(words=trace.name, colour=trace.marker.color, mark=letter)
        else:
            look = trace.line
            dashed = look.dash is not None
            key = ChartKey(words=trace.name, colour=look.color, width=look.width, is_dashed=dashed)
        found.setdefault(key.words.removesuffix("s"), key)
    return list(found.values())


@dataclass(frozen=True, slots=True)
class _Span:
    """The days that are drawn, as ordinals."""

    low: float
    high: float


def control_chart_figure(
    history: QuantityHistory, *, exchanges: Sequence[Exchange] = (), theme: Theme = "light"
) -> go.Figure:
    """Draw a quantity of a qualification test over time.

    Parameters
    ----------
    history
        Of the quantity.
    exchanges
        Parts that can influence the test; those since the newest result are drawn too.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    plotly.graph_objects.Figure
        Above: values, window of each day, mean and control limits of each part between exchanges. Below:
        moving ranges with their limit. What is outside has a mark of its own shape. An end of the window that
        is far away is left out of the axis, and said so.
    """
    colours = palette(theme)
    days = [float(one.toordinal()) for one in history.dates]
    between = [part for found in history.exchanges for part in found.exchanges]
    parts = [*between, *(one for one in exchanges if one.date > history.dates[-1])]
    span = _span([*days, *(float(one.date.toordinal()) for one in parts)])
    low, high = _reach(history)
    traces = [
        *_windows(history, span, colours),
        *_limits(history, span, colours),
        *_values(history, days, colours),
        *_ranges(history, days, span, colours),
    ]
    layout = _layout(history, colours, span)
    layout["yaxis"]["range"] = [low, high]
    layout["margin"]["t"] = _NAMED if parts else _PLAIN
    labels = [
        *_labels(parts, span, colours),
        *_levels(history, low, high, colours),
        *_far_ends(history, low, high, colours),
    ]
    lines = [_upright(float(one.date.toordinal()), colours.accent, "solid") for one in parts]
    if history.changes.is_step and history.changes.step is not None:
        at = history.changes.step.at
        place = (days[at - 1] + days[at]) / 2
        lines.append(_upright(place, colours.alert, "2px,3px"))
        labels.append(_note(place, "step", colours.alert, row=-1))
    return new_figure(traces, {**layout, "shapes": lines, "annotations": labels}, colours=colours)


def _span(days: Sequence[float]) -> _Span:
    room = max(0.03 * (max(days) - min(days)), _LEAST_DAYS / 2)
    return _Span(low=min(days) - room, high=max(days) + room)


def _reach(history: QuantityHistory) -> tuple[float, float]:
    """Return the ends of the axis of values."""
    low, high = min(history.values), max(history.values)
    if history.chart is not None:
        low, high = min(low, *history.chart.lower), max(high, *history.chart.upper)
    core, core_low, core_high = high - low or abs(high) or 1.0, low, high
    for ends in history.windows:
        if ends[0] >= core_low - _FAR * core:
            low = min(low, ends[0])
        if ends[1] <= core_high + _FAR * core:
            high = max(high, ends[1])
    room = _ROOM * (high - low or core)
    return low - room, high + room


def _stepped(levels: Sequence[float], starts: Sequence[float], span: _Span) -> Line:
    """Return level lines, each from its start to the next one, with a gap between."""
    ends = [*starts[1:], span.high]
    x: list[float | None] = []
    y: list[float | None] = []
    for level, start, end in zip(levels, starts, ends, strict=True):
        x += [start, end, None]
        y += [level, level, None]
    return x, y


def _line(line: Line, name: str, look: dict[str, Any], **more: Any) -> go.Scatter:
    return go.Scatter(x=line[0], y=line[1], name=name, mode="lines", line=look, hoverinfo="skip", **more)


def _windows(history: QuantityHistory, span: _Span, colours: Palette) -> list[go.Scatter]:
    """Return both ends of the window; a window that changed begins at the first result that it judged."""
    runs = [
        (ends, next(run)[1])
        for ends, run in groupby(zip(history.windows, history.dates, strict=True), key=lambda one: one[0])
    ]
    starts = [span.low, *(float(day.toordinal()) for _, day in runs[1:])]
    look = {"color": colours.ink, "width": 2.2}
    return [
        _line(
            _stepped([ends[side] for ends, _ in runs], starts, span),
            "window",
            look,
        )
        for side in (0, 1)
    ]


def _starts(history: QuantityHistory, span: _Span) -> tuple[list[int], list[float]]:
    """Return the first value of each part, and the day on which the part begins."""
    days = [float(max(one.date for one in found.exchanges).toordinal()) for found in history.exchanges]
    return [0, *(found.at for found in history.exchanges)], [span.low, *days]


def _limits(history: QuantityHistory, span: _Span, colours: Palette) -> list[go.Scatter]:
    chart = history.chart
    if chart is None:
        return []
    firsts, starts = _starts(history, span)
    mean = _stepped([chart.centre[at] for at in firsts], starts, span)
    found = [_line(mean, "mean", _mean_look(colours))]
    for levels in (chart.lower, chart.upper):
        line = _stepped([levels[at] for at in firsts], starts, span)
        found.append(_line(line, "control limits", _limit_look(colours)))
    return found


def _values(history: QuantityHistory, days: Sequence[float], colours: Palette) -> list[go.Scatter]:
    x, y, told = _in_parts(history, days, history.values)
    usual = go.Scatter(
        x=x,
        y=y,
        customdata=told,
        name="single value",
        mode="lines+markers",
        line={"color": colours.test, "width": 1.4},
        marker={"symbol": "circle", "size": 7, "color": colours.test},
        hovertemplate=f"%{{customdata}}<br>{safe(with_unit('%{y:.4g}', history.unit))}<extra></extra>",
    )
    chart = history.chart
    alarms = [()] * len(days) if chart is None else list(chart.alarms)
    points = list(zip(days, history.values, strict=True))
    beyond = [point for point, one in zip(points, alarms, strict=True) if "outside the limits" in one]
    in_run = [point for point, one in zip(points, alarms, strict=True) if "run on one side" in one]
    outside = [point for point, inside in zip(points, history.inside, strict=True) if not inside]
    return [
        usual,
        *_marks("outside the control limits", beyond, colours),
        *_marks(_IN_RUN, in_run, colours),
        *_marks("outside the window", outside, colours),
    ]


def _in_parts(
    history: QuantityHistory, days: Sequence[float], values: Sequence[float | None]
) -> tuple[list[float | None], list[float | None], list[str]]:
    """Return values with a gap where a part was exchanged, and what is said of each."""
    x: list[float | None] = []
    y: list[float | None] = []
    told: list[str] = []
    begins = {found.at for found in history.exchanges}
    for at, (day, value, result) in enumerate(zip(days, values, history.results, strict=True)):
        if at in begins:
            x, y, told = [*x, None], [*y, None], [*told, ""]
        x.append(day)
        y.append(value)
        told.append(safe(f"{day_words(result.date)}, {result.recording}"))
    return x, y, told


def _marks(
    name: str, points: Sequence[tuple[float, float]], colours: Palette, **place: Any
) -> list[go.Scatter]:
    """Return marks of a shape of their own around some points; none where there are none."""
    if not points:
        return []
    symbol, size = _SYMBOLS[name]
    return [
        go.Scatter(
            x=[day for day, _ in points],
            y=[value for _, value in points],
            name=name,
            mode="markers",
            marker={
                "symbol": symbol,
                "size": size,
                "color": colours.alert,
                "line": {"width": 2.2, "color": colours.alert},
            },
            hoverinfo="skip",
            **place,
        )
    ]


def _ranges(
    history: QuantityHistory, days: Sequence[float], span: _Span, colours: Palette
) -> list[go.Scatter]:
    chart = history.chart
    if chart is None:
        return []
    x, y, told = _in_parts(history, days, chart.ranges)
    lower: dict[str, Any] = {"yaxis": "y2"}
    limit = _stepped([chart.upper_range], [span.low], span)
    mean = _stepped([chart.mean_range], [span.low], span)
    line = go.Scatter(
        x=x,
        y=y,
        customdata=told,
        name="moving range",
        mode="lines+markers",
        line={"color": colours.test, "width": 1.4},
        marker={"symbol": "circle", "size": 6, "color": colours.test},
        hovertemplate="%{customdata}<br>moving range "
        f"{safe(with_unit('%{y:.4g}', history.unit))}<extra></extra>",
        **lower,
    )
    above = [
        (day, size)
        for day, size, one in zip(days, chart.ranges, chart.alarms, strict=True)
        if size is not None and "range above its limit" in one
    ]
    return [
        _line(limit, "control limit", _limit_look(colours), **lower),
        _line(mean, "mean", _mean_look(colours), **lower),
        line,
        *_marks("moving range above its limit", above, colours, yaxis="y2"),
    ]


def _limit_look(colours: Palette) -> dict[str, Any]:
    return {"color": colours.model, "width": 1.8, "dash": "7px,4px"}


def _mean_look(colours: Palette) -> dict[str, Any]:
    return {"color": colours.muted, "width": 1.4}


def _upright(day: float, colour: str, dash: str) -> dict[str, Any]:
    look = {"color": colour, "width": 1.6, "dash": dash}
    return {
        "type": "line",
        "layer": "below",
        "line": look,
        "x0": day,
        "x1": day,
        "yref": "paper",
        "y0": 0,
        "y1": 1,
    }


def _labels(exchanges: Sequence[Exchange], span: _Span, colours: Palette) -> list[dict[str, Any]]:
    """Return the names of exchanged parts above their lines, where two are close in two rows."""
    ends = [-1.0] * _LABEL_ROWS
    found = []
    for one in exchanges:
        day = float(one.date.toordinal())
        left = _USUAL_WIDTH * (day - span.low) / (span.high - span.low)
        words = one.part if len(one.part) <= _LABEL_LETTERS else f"{one.part[: _LABEL_LETTERS - 1].rstrip()}…"
        row = next((row for row, end in enumerate(ends) if end < left), None)
        if row is None:
            continue
        ends[row] = left + text_width(words, _LABEL_SIZE) + 10
        found.append(_note(day, words, colours.accent, row=row))
    return found


def _note(day: float, words: str, colour: str, *, row: int) -> dict[str, Any]:
    """Return a text at an upright line: above the panels, or for row -1 between them."""
    height = {"y": 1.0, "yshift": 15 * row} if row >= 0 else {"y": _BETWEEN, "yshift": -8}
    place = {"x": day, "xanchor": "left", "yref": "paper", "yanchor": "bottom", **height}
    return {"text": safe(words), "showarrow": False, "font": {"color": colour, "size": _LABEL_SIZE}, **place}


def _levels(history: QuantityHistory, low: float, high: float, colours: Palette) -> list[dict[str, Any]]:
    """Return the newest window, control limits and mean as figures beside the panel, where they have room."""
    wanted = [(value, "window", colours.ink) for value in history.windows[-1]]
    if history.chart is not None:
        limits = (history.chart.lower[-1], history.chart.upper[-1])
        wanted += [(value, "limit", colours.model) for value in limits]
        wanted.append((history.chart.centre[-1], "mean", colours.muted))
    found: list[dict[str, Any]] = []
    for value, word, colour in wanted:
        near = any(abs(value - one["y"]) < _LEVEL_ROOM * (high - low) for one in found)
        if near or not low <= value <= high:
            continue
        place = {"xref": "paper", "x": 1.006, "xanchor": "left", "yref": "y", "y": value, "yanchor": "middle"}
        font = {"color": colour, "size": _LABEL_SIZE}
        found.append({"text": f"{rounded(value)} {word}", "showarrow": False, "font": font, **place})
    return found


def _far_ends(history: QuantityHistory, low: float, high: float, colours: Palette) -> list[dict[str, Any]]:
    """Say where the ends of the newest window are that the axis does not reach."""
    found = []
    for value, side, edge in ((history.low, "lower", 0), (history.high, "upper", 1)):
        if low <= value <= high:
            continue
        words = f"{side} end of the window, {with_unit(rounded(value), history.unit)}, is beyond this axis"
        share = _VALUES[edge]
        anchor = "top" if edge else "bottom"
        place = {
            "xref": "paper",
            "x": 0.01,
            "xanchor": "left",
            "yref": "paper",
            "y": share,
            "yanchor": anchor,
        }
        font = {"color": colours.muted, "size": _LABEL_SIZE}
        found.append({"text": safe(words), "showarrow": False, "font": font, **place})
    return found


def _layout(history: QuantityHistory, colours: Palette, span: _Span) -> dict[str, Any]:
    unit = f"[{unit_words(history.unit)}]"
    layout = one_panel(colours, height=CONTROL_CHART_HEIGHT, x_title="day of the test", y_title="")
    days, words = _ticks(span)
    upright = layout["yaxis"]
    value_title = "<br>".join(map(safe, wrap(f"{history.words} {unit}", 40)))
    lower = f"moving range<br>{safe(unit)}"
    shown = history.chart is not None
    return {
        **layout,
        "uirevision": f"{history.name} {history.dates[0]} {history.dates[-1]}",
        "grid": {"rows": 2, "columns": 1, "subplots": [["xy"], ["xy2"]]},
        # The names of exchanged parts stand where a legend would; `control_chart_keys` is one in words.
        "showlegend": False,
        "margin": {"l": 78, "r": 92, "b": 50},
        "xaxis": {
            **layout["xaxis"],
            "anchor": "y2" if shown else "y",
            "range": [span.low, span.high],
            "automargin": True,
            "tickvals": days,
            "ticktext": words,
            "showgrid": False,
        },
        "yaxis": {
            **upright,
            "domain": _VALUES if shown else (0.0, 1.0),
            "title": {**upright["title"], "text": value_title},
            "showgrid": False,
            "showline": True,
        },
        "yaxis2": {
            **upright,
            "domain": _RANGES,
            "title": {**upright["title"], "text": lower},
            "rangemode": "tozero",
            "nticks": 4,
            "showgrid": False,
            "showline": True,
            "visible": shown,
        },
    }


def _ticks(span: _Span) -> tuple[list[int], list[str]]:
    """Return the first days of some months, a few, and their words."""
    first, last = date.fromordinal(int(span.low)), date.fromordinal(int(span.high))
    begin, end = 12 * first.year + first.month - 1, 12 * last.year + last.month - 1
    step = next((one for one in _MONTH_STEPS if (end - begin) // one < _MOST_TICKS), _MONTH_STEPS[-1])
    months = [one for one in range(begin - begin % step, end + 1) if one % step == 0]
    days = [date(one // 12, one % 12 + 1, 1) for one in months]
    shown = [day for day in days if span.low <= day.toordinal() <= span.high]
    if not shown:
        middle = date.fromordinal(round((span.low + span.high) / 2))
        return [middle.toordinal()], [day_words(middle)]
    return [day.toordinal() for day in shown], [f"{_MONTHS[day.month - 1]} {day.year}" for day in shown]
