"""What all figures share: layout, lines, and curves reduced to the pixels they cover."""

from __future__ import annotations

import hashlib
import json
from contextlib import suppress
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import plotly.graph_objects as go
from plotly.io import to_html, to_json
from plotly.offline import get_plotlyjs

from correlate.errors import SettingsError
from correlate.plots.palette import FONT
from correlate.samples import kept_samples

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from correlate.plots.palette import Palette

    Floats = NDArray[np.float64]


def safe(text: str) -> str:
    """Keep a text of a file from being read as markup by the drawing library.

    Examples
    --------
    >>> safe("<b>")
    '&lt;b&gt;'
    """
    return text.replace("&", "&amp;").replace("<", "&lt;").replace(">", "&gt;")


def time_line(time_s: Floats, values: Floats, **style: Any) -> go.Scatter:
    """Return a curve over time in ms, long ones reduced to the extremes of every pixel column."""
    kept = kept_samples(values)
    return go.Scatter(
        x=(1e3 * time_s[kept]).astype(np.float32),
        y=values[kept].astype(np.float32),
        mode="lines",
        **style,
    )


def band(
    time_s: Floats, lower: Floats, upper: Floats, *, name: str, colours: Palette
) -> tuple[go.Scatter, go.Scatter]:
    """Return two edges with the space between them filled."""
    edge = {"line": {"color": colours.band_edge, "width": 1}, "hoverinfo": "skip", "legendgroup": name}
    return (
        time_line(time_s, lower, name=f"{name}, lower edge", showlegend=False, **edge),
        time_line(time_s, upper, name=name, fill="tonexty", fillcolor=colours.inner_band, **edge),
    )


def one_panel(colours: Palette, *, height: int, x_title: str, y_title: str) -> dict[str, Any]:
    """Return the layout of a figure with one panel."""
    return {
        "height": height,
        "legend": {"orientation": "h", "x": 0, "xanchor": "left", "y": 1.02, "yanchor": "bottom"},
        "margin": {"l": 72, "r": 16, "t": 36, "b": 56},
        "hovermode": "closest",
        "xaxis": _axis(x_title, colours),
        "yaxis": _axis(y_title, colours),
    }


def _axis(title: str, colours: Palette) -> dict[str, Any]:
    return {
        "title": {"text": safe(title), "font": {"color": colours.muted, "size": 13}, "standoff": 12},
        "gridcolor": colours.rule,
        "linecolor": colours.edge,
        "tickcolor": colours.edge,
        "tickfont": {"color": colours.muted},
        "zeroline": False,
    }


GRAPH_CONFIG: Final[dict[str, Any]] = {
    # Test data are confidential: without this every figure has a button that uploads them.
    "showSendToCloud": False,
    "displaylogo": False,
    "displayModeBar": False,
    "doubleClick": "reset",
    "responsive": True,
    "scrollZoom": False,
}
"""Settings of the drawing library that every figure is shown with."""


class ProjectFigure(go.Figure):  # type: ignore[misc, unused-ignore]
    """A figure that is shown with :data:`GRAPH_CONFIG` in a notebook too: no button uploads its data."""

    _ipython_display_ = None
    _repr_html_ = None

    def show(self, *args: Any, **settings: Any) -> None:
        """Show the figure as the library does, with the settings of the project."""
        super().show(*args, **{"config": GRAPH_CONFIG, **settings})

    def _repr_mimebundle_(self, *_: Any, **__: Any) -> dict[str, Any]:
        """Return the figure for a notebook that can draw it, and a static drawing for one that cannot."""
        from correlate.plots.svg_figure import figure_svg  # noqa: PLC0415 - the drawing is made for notebooks only

        content = self.to_plotly_json()
        known = json.loads(to_json(content, validate=False))
        bundle: dict[str, Any] = {
            "application/vnd.plotly.v1+json": {**known, "config": GRAPH_CONFIG},
            "text/plain": repr(self),
        }
        words = "; ".join(
            str(axis.title.text) for axis in (self.layout.yaxis, self.layout.xaxis) if axis.title.text
        )
        name = f"figure-{hashlib.sha256(json.dumps(known).encode()).hexdigest()[:12]}"
        with suppress(SettingsError):
            bundle["image/svg+xml"] = figure_svg(self, words=words, name=name).replace(
                "<svg ",
                f'<svg xmlns="http://www.w3.org/2000/svg" style="background:{self.layout.paper_bgcolor}" ',
                1,
            )
        return bundle

    def __repr__(self) -> str:
        """Say how many traces there are."""
        return f"Figure(<{len(self.data)} trace{'' if len(self.data) == 1 else 's'}>)"


def new_figure(
    traces: Sequence[go.Scatter | go.Bar], layout: Mapping[str, Any], *, colours: Palette
) -> go.Figure:
    """Return a figure in the project's style."""
    font = {"family": FONT, "size": 13, "color": colours.ink}
    style = {
        "template": "none",
        "autosize": True,
        "dragmode": "zoom",
        "font": font,
        "paper_bgcolor": colours.panel,
        "plot_bgcolor": colours.panel,
        "hoverlabel": {"bgcolor": colours.panel, "bordercolor": colours.edge, "font": font},
    }
    # Made in one go: each later update of a figure costs the library as much as the whole.
    return ProjectFigure(data=list(traces), layout={**style, **layout})


def figure_html(figure: go.Figure) -> str:
    """Return a figure as a part of a page that holds :func:`drawing_library`.

    Parameters
    ----------
    figure
        From :func:`new_figure`.

    Returns
    -------
    str
        A ``div`` and its script, with :data:`GRAPH_CONFIG`.
    """
    return to_html(figure, config=GRAPH_CONFIG, include_plotlyjs=False, full_html=False)  # type: ignore[no-any-return]


def drawing_library() -> str:
    """Return the script that draws figures, to stand once in a page that needs no other host.

    Returns
    -------
    str
        About 5 million characters of JavaScript.
    """
    return get_plotlyjs()  # type: ignore[no-any-return]
