"""The pair page: a test against a model, where rating points are lost, why, and what would recover them."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final

from dash import ClientsideFunction, Dash, Input, Output, State, ctx, html, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError
from dashboard import ids, paths
from dashboard.access import Role, permitted
from dashboard.components import pair_ids
from dashboard.menus import Menus, menus
from dashboard.pages.page import Event, Page, address_of, menus_of, search_of, tab_title_of
from dashboard.pages.pair_address import PairAddress
from dashboard.pages.pair_analysis import PairAnalysis
from dashboard.pages.pair_download import curves_file
from dashboard.pages.pair_events import CHANGE, PICKED, address_after
from dashboard.pages.pair_layout import NAME, layout
from dashboard.pages.pair_live import dragged, zoomed
from dashboard.pages.pair_parts import looked_at, pair_parts, reason_parts
from dashboard.pages.pair_problems import not_rated, without_campaign
from dashboard.theme import theme_of

if TYPE_CHECKING:
    from dash.development.base_component import Component

    from correlate import Campaign
    from dashboard.state import Project

_SLIDERS: Final[dict[str, str]] = {
    "shift": pair_ids.SHIFT,
    "scale": pair_ids.SCALE,
    "offset": pair_ids.OFFSET,
    "interval": pair_ids.INTERVAL,
}


def show(analysis: PairAnalysis, event: Event, *, shown: str | None = None) -> dict[str, Any]:
    """Return everything the page shows after an event but the reasons, which take longer.

    Parameters
    ----------
    analysis
        Of the server.
    event
        From the browser.
    shown
        Query of the pair whose reasons are shown already.

    Returns
    -------
    dict
        A value for each entry of :func:`outputs`.
    """
    project = analysis.project
    if event.trigger == pair_ids.ZOOM:
        return dict.fromkeys(outputs(), no_update) | zoomed(analysis, event)
    try:
        campaign = project.campaign()
    except CorrelateError as error:
        return _nothing() | without_campaign(project, error)
    address = address_after(campaign, event)
    page = _nothing() | _menus(campaign, address)
    if event.trigger in PICKED.values():
        page["search"] = address.as_search()
    try:
        page |= pair_parts(analysis, campaign, address, theme_of(event.theme))
    except CorrelateError as error:
        return page | not_rated(campaign, address, error)
    plain = replace(address, shift_ms="", scale="", offset="").looking_at(None).as_search()
    return page | {"shown": no_update if plain == shown else plain}


def show_reasons(analysis: PairAnalysis, shown: str | None) -> list[Component]:
    """Return what may lie behind the loss of the pair that is shown.

    Parameters
    ----------
    analysis
        Of the server.
    shown
        Its query; None where none is shown.

    Returns
    -------
    list of dash.development.base_component.Component
    """
    if shown is None:
        return []
    try:
        return reason_parts(analysis, analysis.project.campaign(), PairAddress.from_search(shown))
    except CorrelateError as error:
        return [html.Section([html.H2("No reasons"), html.P(str(error))], className="card")]


def download(analysis: PairAnalysis, search: str | None) -> tuple[Any, str]:
    """Return the curves of the pair that is shown as a file.

    Parameters
    ----------
    analysis
        Of the server.
    search
        Query of the URL.

    Returns
    -------
    file, words
        What went wrong, in words, in place of a file.
    """
    try:
        campaign = analysis.project.campaign()
        looked = looked_at(analysis, campaign, PairAddress.from_search(search))
    except CorrelateError as error:
        return no_update, str(error)
    name, content = curves_file(looked, campaign_title=campaign.title, shown_path=analysis.project.shown_path)
    return {"content": content, "filename": name, "type": "text/csv"}, ""


def outputs() -> dict[str, Output]:
    """Return what the callback of the page sets.

    Returns
    -------
    dict
        By the names that :func:`show` uses.
    """
    selects = {name: PICKED[name] for name in ("release", "case", "repeat", "channel", "cfc", "others")}
    fields = {name: PICKED[name] for name in ("start_ms", "end_ms", "parts")}
    properties = {"low": "min", "high": "max", "step": "step", "value": "value"}
    parts = {
        "changes": ids.CHANGES,
        "heading": ids.HEADING,
        "problem": ids.PROBLEM,
        "verdict": ids.VERDICT,
        "provenance": ids.PROVENANCE,
        "releases": pair_ids.RELEASES,
        "window": pair_ids.WINDOW,
        "changed": pair_ids.CHANGED,
        "offset_unit": pair_ids.OFFSET_UNIT,
    }
    return {
        "search": search_of(NAME),
        **menus_of(selects),
        **{name: Output(field_id, "value") for name, field_id in fields.items()},
        **{
            f"{name}_{what}": Output(slider_id, prop)
            for name, slider_id in _SLIDERS.items()
            for what, prop in properties.items()
        },
        "controls_hidden": Output(ids.CONTROLS, "hidden"),
        "rated_hidden": Output(ids.RATED, "hidden"),
        **{name: Output(part_id, "children") for name, part_id in parts.items()},
        "figure": Output(ids.FIGURE, "figure"),
        "shown": Output(pair_ids.SHOWN, "data"),
        "tab_title": tab_title_of(NAME),
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
    analysis = PairAnalysis(project)
    _register_page(app, analysis)
    _register_live(app, analysis)
    with permitted(app, Role.ANALYST, audited="downloaded curves"):
        _register_download(app, analysis)
    _register_in_browser(app)


def _register_page(app: Dash, analysis: PairAnalysis) -> None:
    """Connect what is shown after a pick or a link, and the reasons, which follow it."""

    @app.callback(
        output=outputs(),
        inputs={
            "address": address_of(NAME),
            "picked": {name: Input(menu_id, "value") for name, menu_id in PICKED.items()},
            "zoom": Input(pair_ids.ZOOM, "data"),
            "theme": Input(ids.THEME, "data"),
            "shown": State(pair_ids.SHOWN, "data"),
        },
    )
    def _show(
        address: dict[str, str],
        picked: dict[str, Any],
        zoom: dict[str, Any] | None,
        theme: str | None,
        shown: str | None,
    ) -> dict[str, Any]:
        if address["path"] != paths.PAIR:
            raise PreventUpdate
        everything = picked | {"zoom": zoom}
        event = Event(trigger=ctx.triggered_id, search=address["search"], picked=everything, theme=theme)
        return show(analysis, event, shown=shown)

    @app.callback(Output(pair_ids.REASONS, "children"), Input(pair_ids.SHOWN, "data"))
    def _reasons(shown: str | None) -> list[Component]:
        return show_reasons(analysis, shown)


def _register_live(app: Dash, analysis: PairAnalysis) -> None:
    """Connect what follows a slider while it is dragged."""

    @app.callback(
        Output(pair_ids.CHANGED, "children", allow_duplicate=True),
        Output(ids.FIGURE, "figure", allow_duplicate=True),
        inputs={
            "values": {
                **{name: Input(slider, "drag_value") for name, slider in CHANGE.items()},
                "interval": Input(pair_ids.INTERVAL, "drag_value"),
            },
            "search": State(ids.address_of(NAME), "search"),
            "theme": State(ids.THEME, "data"),
        },
        prevent_initial_call=True,
    )
    def _dragged(values: dict[str, Any], search: str | None, theme: str | None) -> tuple[Any, Any]:
        return dragged(analysis, search, values, theme)


def _register_download(app: Dash, analysis: PairAnalysis) -> None:
    """Connect the data that are taken away."""

    @app.callback(
        Output(pair_ids.DOWNLOAD, "data"),
        Output(pair_ids.DOWNLOAD_PROBLEM, "children"),
        Input(pair_ids.DATA, "n_clicks"),
        State(ids.address_of(NAME), "search"),
        prevent_initial_call=True,
    )
    def _download(_: int | None, search: str | None) -> tuple[Any, str]:
        return download(analysis, search)


def _register_in_browser(app: Dash) -> None:
    """Connect what needs no server: zoom, link and picture."""
    # dash has no types for clientside callbacks.
    app.clientside_callback(  # type: ignore[no-untyped-call]
        # A picture reports any change of its axes; one of its size would cancel what the server works on.
        ClientsideFunction(namespace="correlatePair", function_name="zoomOf"),
        Output(pair_ids.ZOOM, "data"),
        Input(ids.FIGURE, "relayoutData"),
    )
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction(namespace="correlatePair", function_name="copyLink"),
        Output(pair_ids.COPIED, "children"),
        Input(pair_ids.COPY, "n_clicks"),
        Input(ids.address_of(NAME), "search"),
    )
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction(namespace="correlatePair", function_name="savePicture"),
        Output(pair_ids.PICTURE_SAVED, "data"),
        Input(pair_ids.PICTURE, "n_clicks"),
        State(ids.FIGURE, "id"),
    )


def _nothing() -> dict[str, Any]:
    """Return a page on which nothing is rated."""
    return dict.fromkeys(outputs(), no_update) | {
        "controls_hidden": False,
        "changes": "",
        "heading": "",
        "problem": "",
        "rated_hidden": True,
    }


def _menus(campaign: Campaign, address: PairAddress) -> dict[str, Any]:
    shown: Menus = menus(campaign, address.pair)
    by_name = {name: getattr(shown, name) for name in ("release", "case", "repeat", "channel", "cfc")}
    others = [one for one in shown.release.options if one["value"] != shown.release.value]
    return {
        **{f"{name}_options": menu.options for name, menu in by_name.items()},
        **{name: menu.value for name, menu in by_name.items()},
        "start_ms": shown.start_ms,
        "end_ms": shown.end_ms,
        "others_options": others,
        "others": list(address.others),
        "parts": list(address.parts),
    }


PAGE: Final = Page(path=paths.PAIR, name="Pair", layout=layout, register=register)
"""For the application."""
