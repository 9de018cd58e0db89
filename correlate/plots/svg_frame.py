"""What stands around the curves of a static drawing: axes, grid, legend, level lines and notes."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any, Final

from correlate.errors import SettingsError
from correlate.plots.svg_marks import mark, stroke
from correlate.plots.svg_text import plain_lines, text_element, text_width

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.plots.svg_scale import Scale

_USUAL_RANK: Final = 1000
_SWATCH: Final = 26.0
_GAP: Final = 18.0
_LINE: Final = 1.2
"""Distance of lines of text, in sizes."""


def draw_axes(figure: Any, across: Scale, ups: list[Scale], height: int) -> Iterator[str]:
    """Draw grid, ticks and titles.

    Parameters
    ----------
    figure
        The figure.
    across, ups
        Its axes.
    height
        Of the drawing, px.

    Yields
    ------
    str
        Elements.
    """
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


def draw_legend(figure: Any, across: Scale) -> Iterator[str]:
    """Draw the legend in one row above the panel.

    Parameters
    ----------
    figure
        The figure.
    across
        Its axis to the right.

    Yields
    ------
    str
        Elements.
    """
    layout = figure.layout
    named = [trace for trace in figure.data if trace.showlegend is not False and trace.name]
    if layout.showlegend is False or (len(named) < 2 and not layout.showlegend):
        return
    size = float(layout.font.size)
    x, y = across.start, float(layout.margin.t) - 10.0
    for trace in sorted(named, key=lambda one: one.legendrank or _USUAL_RANK):
        yield _swatch(trace, x, y - 0.33 * size)
        name = " ".join(plain_lines(trace.name))
        x += _SWATCH + 7.0
        yield text_element(name, x=x, y=y, size=size, colour=str(layout.font.color))
        x += text_width(name, size) + _GAP


def draw_shapes(figure: Any, across: Scale, up: Scale) -> Iterator[str]:
    """Draw level lines and marked stretches.

    Parameters
    ----------
    figure
        The figure.
    across, up
        Its axes.

    Yields
    ------
    str
        Elements.

    Raises
    ------
    SettingsError
        A shape is neither line nor rectangle.
    """
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
    """Draw notes.

    Parameters
    ----------
    figure
        The figure.
    across, up
        Its axes.

    Yields
    ------
    str
        Elements.
    """
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


def _swatch(trace: Any, x: float, y: float) -> str:
    if trace.type == "bar":
        colour = escape(str(trace.marker.color))
        return f'<rect x="{x + 8:.1f}" y="{y - 5:.1f}" width="12" height="10" fill="{colour}"/>'
    if trace.fill not in {None, "none"}:
        edge = stroke(trace.line).replace('fill="none"', f'fill="{escape(str(trace.fillcolor))}"')
        return f'<rect x="{x:.1f}" y="{y - 5:.1f}" width="{_SWATCH:g}" height="10" {edge}/>'
    line = f'<path d="M{x:.1f} {y:.1f}h{_SWATCH:g}" {stroke(trace.line)}/>'
    if "markers" not in (trace.mode or ""):
        return line
    return line + mark(trace.marker.symbol or "circle", x + _SWATCH / 2, y, 8.0, str(trace.marker.color))


def _is_shown(value: float, reference: str | None, scale: Scale) -> bool:
    """Say whether a place is inside the panel, as the drawing library wants it of a note on an axis."""
    return reference == "paper" or scale.low <= float(value) <= scale.high


def _along(value: float, reference: str | None, scale: Scale) -> float:
    """Return where a value lies on an axis, or a share of the panel."""
    if reference == "paper":
        return scale.start + float(value) * (scale.end - scale.start)
    return scale.at(float(value))
