"""The repeats page: how the repeats of a test scatter, and whether their data can be used."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any, Final

from dash import Dash, Input, Output, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError
from correlate.plots import channel_title, filter_words, number, repeats_figure
from correlate.plots.picture import PictureWords, picture_svg
from dashboard import ids, paths
from dashboard.access import expensive
from dashboard.components.frame import faulty_campaign, no_campaign, problem
from dashboard.components.pictures import Picture
from dashboard.components.states import loading
from dashboard.laboratory import laboratory_of
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
from dashboard.pages.pictures import register_picture
from dashboard.pages.repeats.address import BETWEEN_NAMES, chosen, shown_text, with_axis
from dashboard.pages.repeats.layout import (
    NAME,
    axis_note,
    content,
    controls,
    cross_plot_parts,
    repeat_lines,
    repeat_parts,
    repeats_menus,
)
from dashboard.selection import file_name, read_query, write_query
from dashboard.theme import theme_of

if TYPE_CHECKING:
    from collections.abc import Mapping
    from datetime import date

    from dash.development.base_component import Component

    from correlate import Campaign
    from dashboard.laboratory import Laboratory
    from dashboard.state import Project


PICKED: Final[dict[str, str]] = {
    "case": ids.REPEATS_CASE,
    "channel": ids.REPEATS_CHANNEL,
    "width": ids.REPEATS_WIDTH,
    "across": ids.REPEATS_ACROSS,
    "windows": ids.REPEATS_WINDOW,
    "shown": ids.REPEATS_LINES,
}
"""Key of the query that each menu sets."""

KEYS: Final[tuple[str, ...]] = (*PICKED, "repeat")
"""Of the query: what the menus set, and the repeat that is drawn in front of the others."""


def layout(search: str) -> html.Main:
    """Return the page, empty until its callbacks have run."""
    # The cross-plot takes longer and has its own place.
    shown = loading(html.Div(content()), "curves", "Reading the repeats", {ids.REPEATS_FIGURE: "figure"})
    return html.Main(
        [*page_parts(NAME, search), controls(), html.Div(shown, className="content")], className="page"
    )


def asked_for(event: Event) -> dict[str, str]:
    """Return what an event asks for, by key of the query; what is empty is the first entry."""
    asked = read_query(event.search, KEYS)
    if event.trigger not in PICKED.values():
        return asked
    shown = event.picked["shown"] or []
    picked = {key: value or "" for key, value in event.picked.items()} | {
        "shown": BETWEEN_NAMES.join(shown),
        "repeat": asked["repeat"],
    }
    if event.trigger == ids.REPEATS_CASE:
        picked |= dict.fromkeys(("channel", "across", "windows", "shown", "repeat"), "")
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
        names = [one["value"] for one in page["shown_options"]]
        asked["shown"] = shown_text(asked["shown"].split(BETWEEN_NAMES), names)
        page["search"] = write_query(asked, event.search)
    try:
        choice = chosen(campaign, asked)
        query = page["search"] if isinstance(page["search"], str) else event.search
        shown = repeat_parts(laboratory, campaign, choice, theme_of(event.theme), query)
    except CorrelateError as error:
        return page | _not_shown(campaign, asked, error)
    if resultant:
        shown["heading"] = [*shown["heading"], axis_note(resultant)]
    title = f"{channel_title(choice.channel.words)}, {choice.load_case.name}: repeats"
    return page | shown | {"shown_hidden": False, "tab_title": title}


def show_cross_plot(laboratory: Laboratory, search: str | None, theme: str | None) -> list[Component]:
    """Return the cross-plot of an address, or why there is none."""
    try:
        campaign = laboratory.project.campaign()
        asked, _ = with_axis(campaign, read_query(search, KEYS))
        choice = chosen(campaign, asked)
    except CorrelateError:
        # The page itself says what is wrong with its address.
        return []
    return cross_plot_parts(laboratory, campaign, choice, theme_of(theme))


def repeats_picture(laboratory: Laboratory, search: str | None, day: date) -> Picture:
    """Draw what the page shows of the repeats of a channel, as a picture to save."""
    campaign = laboratory.project.campaign()
    asked, _ = with_axis(campaign, read_query(search, KEYS))
    choice = chosen(campaign, asked)
    load_case, plan = choice.load_case, choice.channel
    found = laboratory.repeats(campaign, load_case, plan, band=choice.band)
    start_ms, end_ms = load_case.interval_ms
    words = PictureWords(
        title=f"{channel_title(plan.words)} · {load_case.title or load_case.name}: repeats of the test",
        ratings=(f"Rating of the repeats against each other: {found.ceiling.in_words}",),
        settings=f"{filter_words(plan.cfc)} · {number(start_ms)} ms to {number(end_ms)} ms",
        campaign=campaign.title,
        day=day,
    )
    having = laboratory.tests(campaign, load_case, plan)
    lines = repeat_lines(choice, having, laboratory.judged(campaign, load_case))
    figure = repeats_figure(found.repeats, theme="light", corridor=found.corridor, lines=lines)
    return Picture(
        name=file_name([load_case.name, plan.test, "repeats"]),
        svg=picture_svg(figure, words),
        about=f"repeats of load case {load_case.name}, channel {plan.test}",
    )


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
        "legend": Output(ids.REPEATS_LEGEND, "children"),
        "findings": Output(ids.REPEATS_FINDINGS, "children"),
        "numbers": Output(ids.REPEATS_NUMBERS, "children"),
        "qualified": Output(ids.REPEATS_WINDOWS, "children"),
        "media": Output(ids.REPEATS_MEDIA, "children"),
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
    def _show(address: dict[str, str], picked: dict[str, Any], theme: str | None) -> dict[str, Any]:
        if address["path"] != paths.REPEATS:
            raise PreventUpdate
        search = address["search"]
        return show(laboratory, Event(trigger=ctx.triggered_id, search=search, picked=picked, theme=theme))

    @app.callback(
        Output(ids.REPEATS_CROSS, "children"),
        inputs={"address": address_of(NAME), "theme": Input(ids.THEME, "data")},
    )
    @expensive
    def _show_cross_plot(address: dict[str, str], theme: str | None) -> list[Component]:
        if address["path"] != paths.REPEATS:
            raise PreventUpdate
        return show_cross_plot(laboratory, address["search"], theme)

    register_picture(app, NAME, partial(repeats_picture, laboratory))


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
