"""The decision sheet: may a release be used, for what, and which objections are there."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from dash import Dash, Input, Output, ctx, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError
from dashboard import ids, paths
from dashboard.access import expensive
from dashboard.components.data import refusal
from dashboard.pages import job_panel
from dashboard.pages.decision import export, signing
from dashboard.pages.decision.layout import CHOICE, NAME, decision_parts, layout, trend_parts
from dashboard.pages.page import Event, Page, address_of, menus_of, search_of, tab_title_of, values_of
from dashboard.theme import theme_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dash.development.base_component import Component

    from correlate import Campaign, StoredBoard
    from dashboard.state import Project


def show(project: Project, event: Event) -> dict[str, Any]:
    """Return everything the page shows after an event."""

    def parts(campaign: Campaign, stored: StoredBoard) -> dict[str, Any]:
        return decision_parts(project, campaign, stored, CHOICE.query(event))

    nothing = dict.fromkeys(outputs(), no_update) | {"rated_hidden": True, "shown": None}
    return nothing | CHOICE.found(project, event, parts)


def show_trend(project: Project, shown: Mapping[str, str] | None, theme: str | None) -> list[Component]:
    """Return the ratings of all releases; nothing if the page shows no release."""
    if not shown:
        return []
    try:
        with project.results(project.campaign()) as results:
            trend = results.trend()
    except CorrelateError as error:
        return [refusal(error)]
    return trend_parts(trend, release=shown["release"], theme=theme_of(theme))


def outputs() -> dict[str, Output]:
    """Return what the callback of the page sets."""
    return {
        "search": search_of(NAME),
        **menus_of(CHOICE.picked),
        "picks_hidden": Output(ids.DECISION_PICKS, "hidden"),
        "content": Output(ids.DECISION_CONTENT, "children"),
        "rated_hidden": Output(ids.DECISION_RATED, "hidden"),
        "sign_offs": Output(ids.DECISION_SIGN_OFFS, "children"),
        "notes": Output(ids.DECISION_NOTES, "children"),
        "source": Output(ids.DECISION_SOURCE, "children"),
        "shown": Output(ids.DECISION_SHOWN, "data"),
        "tab_title": tab_title_of(NAME),
    }


def register(app: Dash, project: Project) -> None:
    """Connect the page with its project."""

    @app.callback(
        output=outputs(),
        inputs={
            "address": address_of(NAME),
            "picked": values_of(CHOICE.picked),
            "written": Input(ids.DECISION_WRITTEN, "data"),
        },
    )
    @expensive
    def _show(
        address: dict[str, str],
        picked: dict[str, str | None],
        written: str | None,  # noqa: ARG001 - it triggers
    ) -> dict[str, Any]:
        if address["path"] != paths.DECISION:
            raise PreventUpdate
        search = address["search"]
        return show(project, Event(trigger=ctx.triggered_id, search=search, picked=picked, theme=None))

    @app.callback(
        Output(ids.DECISION_TREND_PLACE, "children"),
        Input(ids.DECISION_SHOWN, "data"),
        Input(ids.THEME, "data"),
    )
    @expensive
    def _show_trend(shown: dict[str, str] | None, theme: str | None) -> list[Component]:
        return show_trend(project, shown, theme)

    job_panel.register(app, NAME, paths.DECISION)
    signing.register(app, project)
    export.register(app)
    CHOICE.register_print(app, ids.DECISION_PRINT)


PAGE: Final = Page(path=paths.DECISION, name="Decision", layout=layout, register=register)
"""For the application."""
