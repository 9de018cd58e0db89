"""The pair page: one test against one model, in words, numbers and a picture."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final

from dash import Dash, Input, Output, ctx, dcc, html, no_update

from correlate import CorrelateError
from correlate.plots import channel_title, pair_figure
from dashboard import ids
from dashboard.address import Address
from dashboard.components.controls import controls
from dashboard.components.graph import graph
from dashboard.components.heading import changes, heading, plain_words
from dashboard.components.labelled import labelled
from dashboard.components.problem import faulty_campaign, no_campaign, problem
from dashboard.components.provenance import provenance
from dashboard.components.verdict import verdict
from dashboard.menus import Menus, menus
from dashboard.selection import number_text, selected, without_repetition
from dashboard.theme import theme_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from correlate import Campaign
    from dashboard.state import Project

PICKED: Final[dict[str, str]] = {
    "release": ids.RELEASE,
    "case": ids.CASE,
    "repeat": ids.REPEAT,
    "channel": ids.CHANNEL,
    "cfc": ids.CFC,
    "start_ms": ids.START,
    "end_ms": ids.END,
}
"""Field of the address that each menu or field of the page sets."""

_CLEARED: Final[dict[str, dict[str, str]]] = {
    ids.CASE: {"repeat": "", "channel": "", "cfc": "", "start_ms": "", "end_ms": ""},
    ids.CHANNEL: {"cfc": ""},
}
"""What loses its meaning when something else is picked."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """What the browser sends.

    Attributes
    ----------
    trigger
        Id of what changed; None at the start.
    search
        Query of the address line.
    picked
        Values of the menus and fields, by field of the address.
    theme
        ``light`` or ``dark``.
    """

    trigger: str | None
    search: str | None
    picked: Mapping[str, Any]
    theme: str | None


def layout() -> html.Main:
    """Return the page, empty until its callback has run.

    Returns
    -------
    dash.html.Main
    """
    rated = html.Div(
        [
            html.Section(id=ids.VERDICT, className="card verdict-card", **labelled("Rating")),
            html.Section(
                [graph(ids.FIGURE), html.P("Drag to zoom, double-click for all of it.", className="hint")],
                className="card figure-card",
                **labelled("Curves of test and model"),
            ),
            html.Div(id=ids.PROVENANCE, className="provenance"),
        ],
        id=ids.RATED,
        hidden=True,
    )
    content = [
        html.Div(id=ids.HEADING, className="heading"),
        html.Div(id=ids.PROBLEM),
        rated,
    ]
    waiting = html.Div(
        [html.Span(className="pulse"), "Rating the pair …"], className="waiting", role="status"
    )
    return html.Main(
        [
            controls(),
            dcc.Loading(
                html.Div(content, id="content", tabIndex="-1"),
                custom_spinner=waiting,
                delay_show=200,
                overlay_style={"visibility": "visible"},
                parent_className="content",
            ),
        ],
        className="page",
    )


def show(project: Project, event: Event) -> dict[str, Any]:
    """Return everything the page shows after an event.

    Parameters
    ----------
    project
        Of the server.
    event
        From the browser.

    Returns
    -------
    dict
        A value for each entry of :func:`outputs`.
    """
    try:
        campaign = project.campaign()
    except CorrelateError as error:
        return _nothing() | _without_campaign(project, error)
    address = address_after(campaign, event)
    page = _nothing() | _menus(menus(campaign, address)) | {"campaign": _campaign(campaign)}
    if event.trigger in PICKED.values():
        page["search"] = address.as_search()
    try:
        return page | _rated(project, campaign, address, event.theme)
    except CorrelateError as error:
        return page | _not_rated(campaign, address, error)


def address_after(campaign: Campaign, event: Event) -> Address:
    """Return the address that an event leads to.

    Parameters
    ----------
    campaign
        Of the project.
    event
        From the browser.

    Returns
    -------
    Address
        That of the address line, or after a pick the one that names everything picked.
    """
    if event.trigger not in PICKED.values():
        return Address.from_search(event.search)
    texts = {name: _text(value) for name, value in event.picked.items()}
    picked = Address(**(texts | _CLEARED.get(event.trigger or "", {})))
    shown = menus(campaign, picked)
    named = replace(
        picked,
        release=shown.release.value or picked.release,
        case=shown.case.value or picked.case,
        repeat=shown.repeat.value or picked.repeat,
        channel=shown.channel.value or picked.channel,
    )
    try:
        return without_repetition(campaign, named)
    except CorrelateError:  # said when the pair is looked up
        return named


def outputs() -> dict[str, Output]:
    """Return what the callback of the page sets.

    Returns
    -------
    dict
        By the names that :func:`show` uses.
    """
    menu_ids = {name: menu_id for name, menu_id in PICKED.items() if name not in {"start_ms", "end_ms"}}
    return {
        "search": Output(ids.ADDRESS, "search"),
        "campaign": Output(ids.CAMPAIGN, "children"),
        **{f"{name}_options": Output(menu_id, "data") for name, menu_id in menu_ids.items()},
        **{name: Output(menu_id, "value") for name, menu_id in PICKED.items()},
        "controls_hidden": Output(ids.CONTROLS, "hidden"),
        "changes": Output(ids.CHANGES, "children"),
        "heading": Output(ids.HEADING, "children"),
        "problem": Output(ids.PROBLEM, "children"),
        "rated_hidden": Output(ids.RATED, "hidden"),
        "verdict": Output(ids.VERDICT, "children"),
        "figure": Output(ids.FIGURE, "figure"),
        "provenance": Output(ids.PROVENANCE, "children"),
        "tab_title": Output(ids.TAB_TITLE, "data"),
    }


def register(app: Dash, project: Project) -> None:
    """Connect the page with its project.

    Parameters
    ----------
    app
        The application.
    project
        What it shows.
    """

    @app.callback(
        output=outputs(),
        inputs={
            "search": Input(ids.ADDRESS, "search"),
            "picked": {name: Input(menu_id, "value") for name, menu_id in PICKED.items()},
            "theme": Input(ids.THEME, "data"),
        },
    )
    def _show(search: str | None, picked: dict[str, Any], theme: str | None) -> dict[str, Any]:
        return show(project, Event(trigger=ctx.triggered_id, search=search, picked=picked, theme=theme))


def _rated(project: Project, campaign: Campaign, address: Address, theme: str | None) -> dict[str, Any]:
    selection = selected(campaign, address)
    score = project.score(campaign, selection.pair, selection.recipe)
    title = channel_title(selection.pair.channel.words)
    return {
        "changes": changes(address, selection.pair),
        "heading": heading(selection.pair),
        "rated_hidden": False,
        "verdict": verdict(score.rating),
        "figure": pair_figure(score, theme=theme_of(theme)),
        "provenance": provenance(score, project.shown_path),
        "tab_title": f"{score.rating.overall:.3f} {score.rating.grade} · {title}",
    }


def _not_rated(campaign: Campaign, address: Address, error: CorrelateError) -> dict[str, Any]:
    """Return the message; what was asked for is still named where that much is known."""
    plain = replace(address, cfc="", start_ms="", end_ms="")
    try:
        pair = selected(campaign, plain).pair
    except CorrelateError:
        way_out = dcc.Link("Show the first pair of the campaign", href="/", className="way-out")
        return {
            "problem": problem("There is no such pair", error, way_out=way_out),
            "tab_title": "No such pair",
        }
    back = dcc.Link(f"Back to {plain_words(pair)}, as in the campaign", href="/" + plain.as_search())
    ways = back if plain != address else "The files or the campaign must change; then load this page again."
    return {
        "changes": changes(address, pair),
        "heading": heading(pair),
        "problem": problem("This pair cannot be rated", error, way_out=html.P(ways, className="way-out")),
        "tab_title": "Not rated",
    }


def _without_campaign(project: Project, error: CorrelateError) -> dict[str, Any]:
    message = faulty_campaign(error) if project.campaign_file.exists() else no_campaign(error)
    return {"controls_hidden": True, "problem": message, "tab_title": "No campaign"}


def _nothing() -> dict[str, Any]:
    """Return a page on which nothing is rated."""
    return dict.fromkeys(outputs(), no_update) | {
        "campaign": "",
        "controls_hidden": False,
        "changes": "",
        "heading": "",
        "problem": "",
        "rated_hidden": True,
    }


def _menus(shown: Menus) -> dict[str, Any]:
    by_name = {name: getattr(shown, name) for name in ("release", "case", "repeat", "channel", "cfc")}
    return {
        **{f"{name}_options": menu.options for name, menu in by_name.items()},
        **{name: menu.value for name, menu in by_name.items()},
        "start_ms": shown.start_ms,
        "end_ms": shown.end_ms,
    }


def _campaign(campaign: Campaign) -> list[html.Span]:
    return [
        html.Span(campaign.title, className="campaign-title"),
        html.Span(campaign.device, className="campaign-device"),
    ]


def _text(value: object) -> str:
    """Return what a menu or field holds as an address writes it."""
    if isinstance(value, (int, float)):
        return number_text(value)
    return "" if value is None else str(value)
