"""The figures of this folder as static vector drawings that need no script, no network and no browser."""

from __future__ import annotations

from html import escape
from typing import TYPE_CHECKING, Any, Final

from correlate.errors import SettingsError
from correlate.plots.svg_frame import draw_annotations, draw_axes, draw_legend, draw_shapes
from correlate.plots.svg_marks import draw_bars, draw_scatter, points_of
from correlate.plots.svg_scale import Scale, make_scale

if TYPE_CHECKING:
    from collections.abc import Iterator

    import plotly.graph_objects as go

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
        *draw_legend(figure, panel.across),
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
        top, bottom = float(margin.t), height - float(margin.b)
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
        return [trace for trace in self._figure.data if (trace.yaxis or "y") == axis]


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
