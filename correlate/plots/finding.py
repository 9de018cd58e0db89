"""The picture of one finding of the data check: the channel, with the time span marked."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from correlate.plots.graph import new_figure
from correlate.plots.lines import one_panel, time_line
from correlate.plots.palette import palette
from correlate.plots.wording import channel_title, unit_words

if TYPE_CHECKING:
    from collections.abc import Sequence

    import plotly.graph_objects as go

    from correlate.plots.palette import Palette, Theme
    from correlate.reference.finding import Finding
    from correlate.signal import Signal

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
    return new_figure(traces, {**layout, "shapes": _span(finding, signal, colours)}, colours=colours)


def _span(finding: Finding, signal: Signal, colours: Palette) -> list[dict[str, Any]]:
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
