"""The scoreboard: one release against the previous one, readable in ten seconds."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from dash import ClientsideFunction, Dash, Input, Output, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError
from correlate.plots import board_title
from dashboard import ids, paths
from dashboard.components.controls import labelled, menu
from dashboard.components.frame import faulty_campaign, no_campaign, problem, rating_commands
from dashboard.pages.page import Event, Page, address_of, menus_of, page_parts, search_of, tab_title_of
from dashboard.pages.scoreboard.layout import board_parts
from dashboard.selection import read_query, write_query
from dashboard.theme import theme_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from correlate import Campaign
    from dashboard.state import KeptBoard, Project


NAME: Final = "scoreboard"
"""Of the page, in its ids."""

PICKED: Final[dict[str, str]] = {"release": ids.SCOREBOARD_RELEASE, "against": ids.SCOREBOARD_AGAINST}
"""Key of the query that each menu sets."""


def layout(search: str) -> html.Main:
    """Return the page, empty until its callback has run."""
    picks = html.Div(
        [
            menu(ids.SCOREBOARD_RELEASE, "Release", "none"),
            menu(ids.SCOREBOARD_AGAINST, "against", "none"),
            html.Button("Print", id=ids.SCOREBOARD_PRINT, className="button", type="button"),
        ],
        id=ids.SCOREBOARD_PICKS,
        className="picks",
        role="group",
        **labelled("Selection"),
    )
    waiting = html.Div(
        [html.Span(className="pulse"), "Reading the results store …"], className="waiting", role="status"
    )
    content = dcc.Loading(
        html.Div(id=ids.SCOREBOARD_CONTENT),
        custom_spinner=waiting,
        delay_show=300,
        overlay_style={"visibility": "visible"},
    )
    return html.Main([*page_parts(NAME, search), picks, content], className="page board")


def show(project: Project, event: Event) -> dict[str, Any]:
    """Return everything the page shows after an event."""
    try:
        campaign = project.campaign()
    except CorrelateError as error:
        message = faulty_campaign(error) if project.campaign_file.exists() else no_campaign(error)
        return _nothing("No campaign", message)
    asked = asked_for(event)
    try:
        kept = project.board(campaign, release=asked["release"], against=asked["against"])
    except CorrelateError as error:
        return _without_board(campaign, asked, error)
    shown = _menus(kept) | {
        "picks_hidden": False,
        "content": board_parts(campaign, kept, theme_of(event.theme)),
        "tab_title": board_title(kept.board),
    }
    search = write_query(asked) if event.trigger in PICKED.values() else no_update
    return shown | {"search": search}


def asked_for(event: Event) -> dict[str, str]:
    """Return the two releases that an event asks for; an empty name leaves the choice to the store."""
    if event.trigger not in PICKED.values():
        return read_query(event.search, PICKED)
    picked = {key: value or "" for key, value in event.picked.items()}
    return picked | {"against": ""} if event.trigger == ids.SCOREBOARD_RELEASE else picked


def outputs() -> dict[str, Output]:
    """Return what the callback of the page sets."""
    return {
        "search": search_of(NAME),
        **menus_of(PICKED),
        "picks_hidden": Output(ids.SCOREBOARD_PICKS, "hidden"),
        "content": Output(ids.SCOREBOARD_CONTENT, "children"),
        "tab_title": tab_title_of(NAME),
    }


def register(app: Dash, project: Project) -> None:
    """Connect the page with its project."""

    @app.callback(
        output=outputs(),
        inputs={
            "address": address_of(NAME),
            "picked": {name: Input(menu_id, "value") for name, menu_id in PICKED.items()},
            "theme": Input(ids.THEME, "data"),
        },
    )
    def _show(address: dict[str, str], picked: dict[str, str | None], theme: str | None) -> dict[str, Any]:
        if address["path"] != paths.SCOREBOARD:
            raise PreventUpdate
        search = address["search"]
        return show(project, Event(trigger=ctx.triggered_id, search=search, picked=picked, theme=theme))

    # dash has no types for clientside callbacks.
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction(namespace="correlate", function_name="printPage"),
        Input(ids.SCOREBOARD_PRINT, "n_clicks"),
    )


def _menus(kept: KeptBoard) -> dict[str, Any]:
    options = [{"value": name, "label": name} for name in kept.releases]
    return {
        "release_options": options,
        "release": kept.board.release,
        "against_options": options,
        "against": kept.board.against,
    }


def _without_board(campaign: Campaign, asked: Mapping[str, str], error: CorrelateError) -> dict[str, Any]:
    if any(asked.values()):
        back = dcc.Link("Show the last rated release", href=paths.SCOREBOARD, className="way-out")
        return _nothing("No such release", problem("Nothing to show for this link", error, way_out=back))
    ways = rating_commands(campaign.folder, then="compares every release with the previous one")
    return _nothing("Not rated yet", problem("Nothing is rated yet", error, way_out=ways))


def _nothing(title: str, message: html.Section) -> dict[str, Any]:
    return dict.fromkeys(outputs(), no_update) | {
        "picks_hidden": True,
        "content": message,
        "tab_title": title,
    }


PAGE: Final = Page(path=paths.SCOREBOARD, name="Scoreboard", layout=layout, register=register)
"""For the application."""
