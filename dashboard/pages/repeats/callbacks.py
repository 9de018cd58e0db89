"""The repeats page: how the repeats of a test scatter, and whether their data can be used."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from dash import Dash, Input, Output, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError
from correlate.plots import channel_title
from dashboard import ids, paths
from dashboard.components.frame import faulty_campaign, no_campaign, problem
from dashboard.laboratory import Laboratory
from dashboard.pages.page import Event, Page, address_of, menus_of, page_parts, search_of, tab_title_of
from dashboard.pages.repeats.address import chosen, with_axis
from dashboard.pages.repeats.layout import (
    axis_note,
    content,
    controls,
    cross_plot_parts,
    repeat_parts,
    repeats_menus,
)
from dashboard.selection import read_query, write_query
from dashboard.theme import theme_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from correlate import Campaign
    from dashboard.state import Project


NAME: Final = "repeats"
"""Of the page, in its ids."""

PICKED: Final[dict[str, str]] = {
    "case": ids.REPEATS_CASE,
    "channel": ids.REPEATS_CHANNEL,
    "width": ids.REPEATS_WIDTH,
    "across": ids.REPEATS_ACROSS,
    "windows": ids.REPEATS_WINDOW,
}
"""Key of the query that each menu sets."""


def layout(search: str) -> html.Main:
    """Return the page, empty until its callbacks have run."""
    waiting = html.Div(
        [html.Span(className="pulse"), "Looking at the repeats …"], className="waiting", role="status"
    )
    shown = dcc.Loading(
        html.Div(content()),
        custom_spinner=waiting,
        delay_show=300,
        overlay_style={"visibility": "visible"},
        parent_className="content",
    )
    return html.Main([*page_parts(NAME, search), controls(), shown], className="page")


def asked_for(event: Event) -> dict[str, str]:
    """Return what an event asks for, by key of the query; what is empty is the first entry."""
    if event.trigger not in PICKED.values():
        return read_query(event.search, PICKED)
    picked = {key: value or "" for key, value in event.picked.items()}
    if event.trigger == ids.REPEATS_CASE:
        picked |= {"channel": "", "across": "", "windows": ""}
    return picked | {"width": "" if picked["width"] == "1" else picked["width"]}


def show(laboratory: Laboratory, event: Event) -> dict[str, Any]:
    """Return everything the page shows after an event but the cross-plot."""
    project = laboratory.project
    try:
        campaign = project.campaign()
    except CorrelateError as error:
        message = faulty_campaign(error) if project.campaign_file.exists() else no_campaign(error)
        return _nothing() | {"controls_hidden": True, "problem": message, "tab_title": "No campaign"}
    asked, resultant = with_axis(campaign, asked_for(event))
    page = _nothing() | repeats_menus(campaign, asked)
    if event.trigger in PICKED.values():
        page["search"] = write_query(asked, event.search)
    try:
        choice = chosen(campaign, asked, event.search)
        shown = repeat_parts(laboratory, campaign, choice, theme_of(event.theme))
    except CorrelateError as error:
        return page | _not_shown(campaign, asked, error)
    if resultant:
        shown["heading"] = [*shown["heading"], axis_note(resultant)]
    title = f"{channel_title(choice.channel.words)}, {choice.load_case.name}: repeats"
    return page | shown | {"shown_hidden": False, "tab_title": title}


def show_cross_plot(laboratory: Laboratory, search: str | None, theme: str | None) -> tuple[Any, Any, bool]:
    """Return the cross-plot of an address: figure, words, and whether the figure is hidden."""
    try:
        campaign = laboratory.project.campaign()
        asked, _ = with_axis(campaign, read_query(search, PICKED))
        choice = chosen(campaign, asked, search)
    except CorrelateError:
        return no_update, "", True
    return cross_plot_parts(laboratory, campaign, choice, theme_of(theme))


def outputs() -> dict[str, Output]:
    """Return what the callback of the page sets."""
    return {
        "search": search_of(NAME),
        **menus_of(PICKED),
        "controls_hidden": Output(ids.REPEATS_CONTROLS, "hidden"),
        "heading": Output(ids.REPEATS_HEADING, "children"),
        "problem": Output(ids.REPEATS_PROBLEM, "children"),
        "shown_hidden": Output(ids.REPEATS_SHOWN, "hidden"),
        "figure": Output(ids.REPEATS_FIGURE, "figure"),
        "findings": Output(ids.REPEATS_FINDINGS, "children"),
        "numbers": Output(ids.REPEATS_NUMBERS, "children"),
        "qualified": Output(ids.REPEATS_WINDOWS, "children"),
        "tab_title": tab_title_of(NAME),
    }


def register(app: Dash, project: Project) -> None:
    """Connect the page with its project."""
    laboratory = Laboratory(project)

    @app.callback(
        output=outputs(),
        inputs={
            "address": address_of(NAME),
            "picked": {name: Input(menu_id, "value") for name, menu_id in PICKED.items()},
            "theme": Input(ids.THEME, "data"),
        },
    )
    def _show(address: dict[str, str], picked: dict[str, str | None], theme: str | None) -> dict[str, Any]:
        if address["path"] != paths.REPEATS:
            raise PreventUpdate
        search = address["search"]
        return show(laboratory, Event(trigger=ctx.triggered_id, search=search, picked=picked, theme=theme))

    @app.callback(
        Output(ids.REPEATS_CROSS_FIGURE, "figure"),
        Output(ids.REPEATS_CROSS_WORDS, "children"),
        Output(ids.REPEATS_CROSS_CARD, "hidden"),
        inputs={"address": address_of(NAME), "theme": Input(ids.THEME, "data")},
    )
    def _show_cross_plot(address: dict[str, str], theme: str | None) -> tuple[Any, Any, bool]:
        if address["path"] != paths.REPEATS:
            raise PreventUpdate
        return show_cross_plot(laboratory, address["search"], theme)


def _not_shown(campaign: Campaign, asked: Mapping[str, str], error: CorrelateError) -> dict[str, Any]:
    back = dcc.Link("Show the first channel of the campaign", href=paths.REPEATS, className="way-out")
    advice = html.P("Correct the files or the campaign, then reload this page.", className="way-out")
    way_out = back if any(asked.values()) else advice
    where = f" of {campaign.title}" if campaign.title else ""
    message = problem(f"These repeats{where} cannot be shown", error, way_out=way_out)
    return {"problem": message, "tab_title": "No repeats"}


def _nothing() -> dict[str, Any]:
    """Return a page on which nothing is shown."""
    return dict.fromkeys(outputs(), no_update) | {
        "controls_hidden": False,
        "heading": "",
        "problem": "",
        "shown_hidden": True,
    }


PAGE: Final = Page(path=paths.REPEATS, name="Repeats", layout=layout, register=register)
"""For the application."""
