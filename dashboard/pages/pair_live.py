"""What follows a slider or a zoom at once, without the rest of the page."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

from dash import Patch, no_update

from correlate import CorrelateError
from correlate.plots import CHANGED_TRACE, changed_trace
from correlate.plots.pair_view import packed
from dashboard.pages.pair_address import PairAddress
from dashboard.pages.pair_events import window_of
from dashboard.pages.pair_parts import changed_part, looked_at, picture, window_words
from dashboard.selection import number_text
from dashboard.theme import theme_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dashboard.pages.page import Event
    from dashboard.pages.pair_analysis import PairAnalysis


def dragged(
    analysis: PairAnalysis, search: str | None, values: Mapping[str, Any], theme: str | None
) -> tuple[Any, Any]:
    """Return the rating and the curve while a slider is dragged.

    Parameters
    ----------
    analysis
        Of the server.
    search
        Query of the URL, which does not follow a drag before its end.
    values
        Where the sliders are: ``shift_ms``, ``scale``, ``offset``, and ``interval`` with two numbers.
    theme
        ``light`` or ``dark``.

    Returns
    -------
    words, figure
        Nothing new where the pair cannot be rated; the page says why at the end of the drag.
    """
    address = PairAddress.from_search(search)
    try:
        campaign = analysis.project.campaign()
        address = replace(address, others=()).changed({name: values[name] for name in _CHANGES})
        if values["interval"]:
            start_ms, end_ms = map(number_text, values["interval"])
            address = replace(address, pair=replace(address.pair, start_ms=start_ms, end_ms=end_ms))
        looked = looked_at(analysis, campaign, address)
    except CorrelateError:
        return no_update, no_update
    figure = Patch()
    shown = theme_of(theme)
    trace = changed_trace(looked.changed, address.window_s, theme=shown)
    figure["data"][CHANGED_TRACE] = packed(trace, theme=shown)
    return changed_part(looked), figure


def zoomed(analysis: PairAnalysis, event: Event) -> dict[str, Any]:
    """Return the picture for another time that is looked at.

    Parameters
    ----------
    analysis
        Of the server.
    event
        From the picture.

    Returns
    -------
    dict
        ``search``, ``figure`` and ``window``: the curves alone are sent, finer where one looks. Empty where
        the pair cannot be rated.
    """
    address = PairAddress.from_search(event.search)
    try:
        campaign = analysis.project.campaign()
        looked = looked_at(analysis, campaign, address)
        time = looked.score.rating.pair.time
        window_ms = window_of(event.picked["zoom"], (1e3 * float(time[0]), 1e3 * float(time[-1])))
        address = address.looking_at(window_ms)
        figure = Patch()
        drawn = picture(analysis, campaign, replace(looked, address=address), theme_of(event.theme))
        figure["data"] = drawn.to_plotly_json()["data"]
    except CorrelateError:
        return {}
    return {"search": address.as_search(), "figure": figure, "window": window_words(address)}


_CHANGES = ("shift_ms", "scale", "offset")
