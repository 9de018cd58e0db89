"""Static figures as SVG, with their frame and axes."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any, Final

from correlate.errors import SettingsError
from correlate.plots.svg_legend import draw_legends, legend_room
from correlate.plots.svg_marks import (
    Scale,
    draw_bars,
    draw_scatter,
    make_scale,
    plain_lines,
    points_of,
    stroke,
    text_element,
    text_width,
)

if TYPE_CHECKING:
    from collections.abc import Iterator

    import plotly.graph_objects as go


_LEAST_LETTERS: Final = 10.0
_LINE: Final = 1.2
"""Distance of lines of text, in sizes."""


def draw_axes(figure: Any, across: Scale, ups: list[Scale], height: int) -> Iterator[str]:
    """Draw grid, ticks and titles."""
    font = figure.layout.font
    size = float(font.size)
    bottom = max(up.start for up in ups)
    for up in ups:
        yield from _upright(up, across, size, str(font.color))
        if across.layout.showgrid is not False:
            yield from (
                _rule(across.at(value), up.end, across.at(value), up.start, across.layout.gridcolor)
                for value, _ in across.ticks
            )
        if up.layout.zeroline and up.low < 0 < up.high:
            level = up.at(0.0)
            yield _rule(across.start, level, across.end, level, up.layout.zerolinecolor)
    colour = str(across.layout.tickfont.color or font.color)
    for value, text in across.ticks:
        words = " ".join(plain_lines(text))
        yield text_element(
            words, x=across.at(value), y=bottom + size + 4, size=size, colour=colour, anchor="middle"
        )
    title = across.layout.title
    if title.text:
        middle = (across.start + across.end) / 2
        yield text_element(
            " ".join(plain_lines(title.text)),
            x=middle,
            y=height - 8,
            size=float(title.font.size or size),
            colour=str(title.font.color or font.color),
            anchor="middle",
        )


def draw_shapes(figure: Any, across: Scale, up: Scale) -> Iterator[str]:
    """Draw level lines and marked stretches."""
    for shape in figure.layout.shapes:
        level = shape.type == "line" and shape.y0 == shape.y1
        if level and not _is_shown(shape.y0, shape.yref, up):
            continue
        left, right = (_along(value, shape.xref, across) for value in (shape.x0, shape.x1))
        low, high = (_along(value, shape.yref, up) for value in (shape.y0, shape.y1))
        if shape.type == "line":
            yield f'<path d="M{left:.1f} {low:.1f}L{right:.1f} {high:.1f}" {stroke(shape.line)}/>'
        elif shape.type == "rect":
            place = f'x="{left:.1f}" y="{min(low, high):.1f}" width="{right - left:.1f}"'
            edge = stroke(shape.line).replace('fill="none"', f'fill="{escape(str(shape.fillcolor))}"')
            yield f'<rect {place} height="{abs(high - low):.1f}" {edge}/>'
        else:
            raise SettingsError(f"a shape '{shape.type}' has no static drawing", where="figure")


def draw_annotations(figure: Any, across: Scale, up: Scale) -> Iterator[str]:
    """Draw notes."""
    anchors = {"left": "start", "right": "end"}
    for note in figure.layout.annotations:
        if not (_is_shown(note.x, note.xref, across) and _is_shown(note.y, note.yref, up)):
            continue
        size = float(note.font.size or figure.layout.font.size)
        rise = {"bottom": -0.25, "middle": 0.35, "top": 1.0}[note.yanchor or "middle"]
        yield text_element(
            " ".join(plain_lines(note.text)),
            x=_along(note.x, note.xref, across),
            y=_along(note.y, note.yref, up) + rise * size,
            size=size,
            colour=str(note.font.color or figure.layout.font.color),
            anchor=anchors.get(note.xanchor, "middle"),
        )


def _upright(up: Scale, across: Scale, size: float, ink: str) -> Iterator[str]:
    layout = up.layout
    colour = str(layout.tickfont.color or ink)
    for value, text in up.ticks:
        level = up.at(value)
        if layout.showgrid is not False:
            yield _rule(across.start, level, across.end, level, layout.gridcolor)
        yield text_element(
            text, x=across.start - 8, y=level + 0.35 * size, size=size, colour=colour, anchor="end"
        )
    if not layout.title.text:
        return
    lines = plain_lines(layout.title.text)
    own = float(layout.title.font.size or size)
    # A title that is longer than its axis is written smaller, so that it does not reach into the next panel.
    longest = max(text_width(line, own) for line in lines)
    own = max(min(own, own * (up.start - up.end) / longest), _LEAST_LETTERS)
    middle = (up.start + up.end) / 2
    for number, line in enumerate(lines):
        place = 14.0 + number * _LINE * own
        yield text_element(
            line,
            x=place,
            y=middle,
            size=own,
            colour=str(layout.title.font.color or ink),
            anchor="middle",
            turned=True,
        )


def _rule(x0: float, y0: float, x1: float, y1: float, colour: Any) -> str:
    return f'<path d="M{x0:.1f} {y0:.1f}L{x1:.1f} {y1:.1f}" fill="none" stroke="{escape(str(colour))}"/>'


def _is_shown(value: float, reference: str | None, scale: Scale) -> bool:
    """Say whether a place is inside the panel, as the drawing library wants it of a note on an axis."""
    return reference == "paper" or scale.low <= float(value) <= scale.high


def _along(value: float, reference: str | None, scale: Scale) -> float:
    """Return where a value lies on an axis, or a share of the panel."""
    if reference == "paper":
        return scale.start + float(value) * (scale.end - scale.start)
    return scale.at(float(value))


WIDTH: Final = 920
"""Of a drawing, in px, before it is fitted to the page."""
_DRAWN: Final = frozenset({"scatter", "bar"})


def figure_svg(
    figure: go.Figure, *, words: str, name: str, height: int | None = None, width: int = WIDTH
) -> str:
    """Draw a figure as an ``svg`` element to stand inside a page.

    Parameters
    ----------
    figure
        From a function of this folder: one axis to the right, one or more upwards, lines, bands, marks,
        texts, stacked bars, level shapes and notes.
    words
        What the drawing shows, for who cannot see it.
    name
        Of the drawing, another one for each drawing of a page: letters, digits and hyphens.
    height
        In px; that of the figure when left out.
    width
        In px, before it is fitted to the page: a small one makes letters large.

    Returns
    -------
    str
        The same figure gives the same text.

    Raises
    ------
    SettingsError
        The figure holds something that has no static drawing.

    Notes
    -----
    Curves are drawn as they are in the figure, to a tenth of a px.
    """
    tall = height or int(figure.layout.height)
    panel = _Panel(figure, width, tall)
    font = figure.layout.font
    body = [
        *draw_shapes(figure, panel.across, panel.ups["y"]),
        *draw_axes(figure, panel.across, list(panel.ups.values()), tall),
        f'<g clip-path="url(#{escape(name)})">',
        *panel.traces(),
        "</g>",
        *panel.unclipped(),
        *draw_annotations(figure, panel.across, panel.ups["y"]),
        *draw_legends(figure, panel.across, panel.box),
    ]
    box = panel.box
    return (
        f'<svg class="figure" viewBox="0 0 {width} {tall}" role="img" aria-label="{escape(words)}" '
        f'font-family="{escape(str(font.family))}">'
        f'<clipPath id="{escape(name)}"><rect x="{box[0]:.1f}" y="{box[1]:.1f}" '
        f'width="{box[2]:.1f}" height="{box[3]:.1f}"/></clipPath>' + "".join(body) + "</svg>"
    )


class _Panel:
    """The axes of a figure and what is drawn on them."""

    def __init__(self, figure: go.Figure, width: int, height: int) -> None:
        layout = figure.layout
        margin = layout.margin
        left, right = float(margin.l), width - float(margin.r)
        top, bottom = float(margin.t) + legend_room(figure, right - left), height - float(margin.b)
        self.box = (left, top, right - left, bottom - top)
        self._figure = figure
        by_axis: dict[str, list[Any]] = {"y": []}
        for trace in figure.data:
            if trace.type not in _DRAWN:
                raise SettingsError(f"a trace '{trace.type}' has no static drawing", where="figure")
            by_axis.setdefault(trace.yaxis or "y", []).append(trace)
        points = [trace.x for trace in figure.data]
        self.across = make_scale(layout.xaxis, points, start=left, end=right, tight=True)
        self.ups: dict[str, Scale] = {}
        for axis, traces in by_axis.items():
            own = layout["yaxis" + axis.removeprefix("y")]
            low, high = own.domain or (0.0, 1.0)
            ends = {"start": bottom - low * (bottom - top), "end": bottom - high * (bottom - top)}
            self.ups[axis] = make_scale(own, _heights(traces), tight=False, **ends)

    def traces(self) -> Iterator[str]:
        """Draw everything that ends at the edge of the panel."""
        for axis, up in self.ups.items():
            before = None
            for trace in self._of(axis):
                if trace.type != "scatter" or trace.cliponaxis is False:
                    continue
                yield from draw_scatter(trace, before, self.across, up)
                before = points_of(trace, self.across, up)
            bars = [trace for trace in self._of(axis) if trace.type == "bar"]
            if bars:
                yield from draw_bars(bars, self.across, up)

    def unclipped(self) -> Iterator[str]:
        """Draw what may reach over the edge."""
        for axis, up in self.ups.items():
            for trace in self._of(axis):
                if trace.type == "scatter" and trace.cliponaxis is False:
                    yield from draw_scatter(trace, None, self.across, up)

    def _of(self, axis: str) -> list[Any]:
        """Return the traces of an axis from the lowest to the uppermost."""
        own = [trace for trace in self._figure.data if (trace.yaxis or "y") == axis]
        return sorted(own, key=lambda trace: trace.zorder or 0)


def _heights(traces: list[Any]) -> list[list[float]]:
    """Return values that the axis must hold: bars stand on each other, a fill goes down to zero."""
    lines = [trace for trace in traces if trace.type == "scatter"]
    found = [[float("nan") if value is None else float(value) for value in trace.y] for trace in lines]
    bars = [trace for trace in traces if trace.type == "bar"]
    if bars:
        found.append([float(sum(column)) for column in zip(*(trace.y for trace in bars), strict=True)])
        found.append([0.0])
    if any(trace.fill == "tozeroy" for trace in lines):
        found.append([0.0])
    return found
