"""The scoreboard: the numbers of one release against the previous one, and what changed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from dash import Dash, Output, ctx, html, no_update
from dash.exceptions import PreventUpdate

from dashboard import ids, paths
from dashboard.access import expensive
from dashboard.components.states import loading
from dashboard.pages.board_choice import BoardChoice
from dashboard.pages.page import (
    Event,
    Page,
    address_of,
    menus_of,
    page_parts,
    search_of,
    tab_title_of,
    values_of,
)
from dashboard.pages.scoreboard.layout import board_heading, board_parts

if TYPE_CHECKING:
    from correlate import Campaign, StoredBoard
    from dashboard.state import Project


NAME: Final = "scoreboard"
"""Of the page, in its ids."""

CHOICE: Final = BoardChoice(
    release=ids.SCOREBOARD_RELEASE,
    against=ids.SCOREBOARD_AGAINST,
    path=paths.SCOREBOARD,
)


def layout(search: str) -> html.Main:
    """Return the page, empty until its callback has run."""
    content = loading(html.Div(id=ids.SCOREBOARD_CONTENT), "board", "Reading the results store")
    picks = CHOICE.menus(ids.SCOREBOARD_PICKS, ids.SCOREBOARD_PRINT)
    return html.Main([*page_parts(NAME, search), picks, content], className="page board")


def show(project: Project, event: Event) -> dict[str, Any]:
    """Return everything the page shows after an event."""

    def parts(campaign: Campaign, stored: StoredBoard) -> dict[str, Any]:
        content = board_parts(campaign, stored, CHOICE.query(event))
        return {"content": content, "tab_title": board_heading(stored.board)}

    return dict.fromkeys(outputs(), no_update) | CHOICE.found(project, event, parts)


def outputs() -> dict[str, Output]:
    """Return what the callback of the page sets."""
    return {
        "search": search_of(NAME),
        **menus_of(CHOICE.picked),
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
            "picked": values_of(CHOICE.picked),
        },
    )
    @expensive
    def _show(address: dict[str, str], picked: dict[str, str | None]) -> dict[str, Any]:
        if address["path"] != paths.SCOREBOARD:
            raise PreventUpdate
        search = address["search"]
        return show(project, Event(trigger=ctx.triggered_id, search=search, picked=picked, theme=None))

    CHOICE.register_print(app, ids.SCOREBOARD_PRINT)


PAGE: Final = Page(path=paths.SCOREBOARD, name="Scoreboard", layout=layout, register=register)
"""For the application."""
