"""The dummies page: which dummies and sensors are due, and how results of qualification change over time."""

from __future__ import annotations

from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any, Final

from dash import Dash, Input, Output, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError
from dashboard import ids, paths
from dashboard.access import expensive
from dashboard.components.frame import problem
from dashboard.laboratory import laboratory_of
from dashboard.pages.dummies.address import KEYS, chosen, day_of
from dashboard.pages.dummies.layout import (
    NAME,
    content,
    heading,
    no_register,
    parts_of,
    parts_without_dummies,
    quantity_menu,
    sensors,
    tab_title,
)
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
from dashboard.selection import read_query, write_query
from dashboard.theme import theme_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dashboard.laboratory import Laboratory
    from dashboard.state import Project


PICKED: Final[dict[str, str]] = {"quantity": ids.DUMMIES_QUANTITY}
"""Key of the query that the menu sets."""


def layout(search: str) -> html.Main:
    """Return the page, empty until its callback has run."""
    return html.Main([*page_parts(NAME, search), content()], className="page board dummies-page")


def show(laboratory: Laboratory, event: Event, today: date) -> dict[str, Any]:
    """Return everything the page shows after an event."""
    asked = read_query(event.search, KEYS)
    page = _nothing()
    if event.trigger == ids.DUMMIES_QUANTITY:
        asked["quantity"] = event.picked["quantity"] or ""
        page["search"] = write_query({"quantity": asked["quantity"]}, event.search)
    try:
        overview = laboratory.dummies(day_of(asked, today))
        if overview is None:
            return page | {"problem": no_register(), "tab_title": "No register"}
        choice = chosen(overview, asked) if overview.dummies else None
    except CorrelateError as error:
        return page | _not_shown(laboratory, asked, error)
    query = page["search"] if isinstance(page["search"], str) else event.search
    if choice is None:
        shown = parts_without_dummies() | {"tab_title": "No dummies"}
    else:
        shown = {
            **quantity_menu(choice),
            **parts_of(overview, choice, theme_of(event.theme), query),
            "tab_title": tab_title(overview, choice),
        }
    back = paths.DUMMIES + write_query({"day": ""}, query) if asked["day"] else ""
    common = {"heading": heading(overview, back), "sensors": sensors(overview, query), "shown_hidden": False}
    return page | shown | common | {"menu_hidden": shown["measured_hidden"]}


def outputs() -> dict[str, Output]:
    """Return what the callback of the page sets."""
    return {
        "search": search_of(NAME),
        **menus_of(PICKED),
        "heading": Output(ids.DUMMIES_HEADING, "children"),
        "problem": Output(ids.DUMMIES_PROBLEM, "children"),
        "shown_hidden": Output(ids.DUMMIES_SHOWN, "hidden"),
        "result": Output(ids.DUMMIES_RESULT, "children"),
        "result_hidden": Output(ids.DUMMIES_RESULT, "hidden"),
        "list": Output(ids.DUMMIES_LIST, "children"),
        "title": Output(ids.DUMMIES_TITLE, "children"),
        "remarks": Output(ids.DUMMIES_REMARKS, "children"),
        "legend": Output(ids.DUMMIES_LEGEND, "children"),
        "figure": Output(ids.DUMMIES_FIGURE, "figure"),
        "sources": Output(ids.DUMMIES_SOURCES, "children"),
        "measured_hidden": Output(ids.DUMMIES_MEASURED, "hidden"),
        "menu_hidden": Output(ids.DUMMIES_MENU, "hidden"),
        "empty": Output(ids.DUMMIES_EMPTY, "children"),
        "facts": Output(ids.DUMMIES_FACTS, "children"),
        "history": Output(ids.DUMMIES_HISTORY, "children"),
        "sensors": Output(ids.DUMMIES_SENSORS, "children"),
        "tab_title": tab_title_of(NAME),
    }


def register(app: Dash, project: Project) -> None:
    """Connect the page with its project."""
    laboratory = laboratory_of(app, project)

    @app.callback(
        output=outputs(),
        inputs={
            "address": address_of(NAME),
            "picked": values_of(PICKED),
            "theme": Input(ids.THEME, "data"),
        },
    )
    @expensive
    def _show(address: dict[str, str], picked: dict[str, str | None], theme: str | None) -> dict[str, Any]:
        if address["path"] != paths.DUMMIES:
            raise PreventUpdate
        event = Event(trigger=ctx.triggered_id, search=address["search"], picked=picked, theme=theme)
        return show(laboratory, event, datetime.now(UTC).date())


def _not_shown(laboratory: Laboratory, asked: Mapping[str, str], error: CorrelateError) -> dict[str, Any]:
    back = dcc.Link("Show the first dummy of the register", href=paths.DUMMIES, className="way-out")
    advice = html.P("Correct the file, then reload this page.", className="way-out")
    words = laboratory.project.without_folder(str(error))
    message = problem("The dummies cannot be shown", words, way_out=back if any(asked.values()) else advice)
    return {"problem": message, "tab_title": "No dummies"}


def _nothing() -> dict[str, Any]:
    """Return a page on which nothing is shown."""
    return dict.fromkeys(outputs(), no_update) | {"heading": "", "problem": "", "shown_hidden": True}


PAGE: Final = Page(path=paths.DUMMIES, name="Dummies", layout=layout, register=register)
"""For the application."""
