"""The axes of the picture of a pair: curves above, loss below, one time for both."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from correlate.plots.lines import one_panel, safe
from correlate.plots.wording import channel_title, interval_words, unit_words

if TYPE_CHECKING:
    from correlate.campaign import PairScore
    from correlate.plots.palette import Palette

HEIGHT: Final = 560
"""Of the figure, in pixels."""
_CURVES: Final = (0.31, 1.0)
_LOSS: Final = (0.0, 0.19)


def pair_axes(
    score: PairScore, release: str, window_s: tuple[float, float] | None, *, colours: Palette
) -> dict[str, Any]:
    """Return axes and legends.

    Parameters
    ----------
    score
        Of the pair.
    release
        Whose loss is drawn.
    window_s
        Start and end of the time that is looked at, s; None for all of it.
    colours
        Of the theme.

    Returns
    -------
    dict
        Layout of the drawing library.
    """
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
