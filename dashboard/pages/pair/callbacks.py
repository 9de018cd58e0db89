"""What happens on the pair page."""

from __future__ import annotations

from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any, Final

from dash import ClientsideFunction, Dash, Input, Output, Patch, State, ctx, dcc, html, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError
from correlate.plots import CHANGED_TRACE, changed_trace
from correlate.plots.pair_view import packed
from dashboard import ids, paths
from dashboard.access import Role, expensive, permitted
from dashboard.components import pair_ids
from dashboard.components.frame import changes, faulty_campaign, heading, no_campaign, plain_words, problem
from dashboard.laboratory import Laboratory
from dashboard.menus import Menus, menus
from dashboard.pages.page import Event, Page, address_of, menus_of, search_of, tab_title_of, values_of
from dashboard.pages.pair.address import PARTS, PairAddress
from dashboard.pages.pair.analysis import PairAnalysis
from dashboard.pages.pair.download import download
from dashboard.pages.pair.layout import (
    NAME,
    changed_part,
    finding_parts,
    layout,
    looked_at,
    pair_parts,
    picture,
    reason_parts,
    scatter_parts,
    window_words,
)
from dashboard.pages.pair.saving import pair_picture
from dashboard.pages.pair.stepping import register_stepping
from dashboard.pages.pictures import register_picture
from dashboard.selection import Address, number_text, without_repetition
from dashboard.theme import theme_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from dash.development.base_component import Component

    from correlate import Campaign
    from dashboard.state import Project


def not_rated(
    analysis: PairAnalysis, campaign: Campaign, address: PairAddress, error: CorrelateError
) -> dict[str, Any]:
    """Return the message; what was asked for is still named where that much is known."""
    plain = address.plain
    try:
        selection = analysis.selected(campaign, plain.pair)
    except CorrelateError:
        way_out = dcc.Link("Show the first pair of the campaign", href=paths.PAIR, className="way-out")
        return {
            "problem": problem("There is no such pair", error, way_out=way_out),
            "tab_title": "No such pair",
        }
    pair = selection.pair
    way = _way_back(analysis, campaign, plain)
    back = "" if way in {None, address} else paths.PAIR + (way or plain).as_search()
    ways = (
        dcc.Link(f"Back to {plain_words(pair)}, as in the campaign", href=back)
        if back
        else "Correct the files or the campaign, then reload this page."
    )
    return {
        "changes": changes(pair, back) if back and address.pair != plain.pair else "",
        "heading": heading(selection),
        "problem": problem("This pair cannot be rated", error, way_out=html.P(ways, className="way-out")),
        "tab_title": "Not rated",
    }


def _way_back(analysis: PairAnalysis, campaign: Campaign, plain: PairAddress) -> PairAddress | None:
    """Return the nearest address that can be shown: with its overlays, or else without them."""
    for address in (plain, PairAddress(pair=plain.pair, parts=plain.parts)):
        try:
            looked_at(analysis, campaign, address)
        except CorrelateError:
            continue
        return address
    return None


def without_campaign(project: Project, error: CorrelateError) -> dict[str, Any]:
    """Return the message for a project whose campaign is absent or holds mistakes."""
    message = faulty_campaign(error) if project.campaign_file.exists() else no_campaign(error)
    return {"controls_hidden": True, "problem": message, "tab_title": "No campaign"}


PAIR: Final[dict[str, str]] = {
    "release": ids.RELEASE,
    "case": ids.CASE,
    "repeat": ids.REPEAT,
    "channel": ids.CHANNEL,
    "cfc": ids.CFC,
    "start_ms": ids.START,
    "end_ms": ids.END,
}
"""Field of the pair that each menu or field of the page sets."""

CHANGE: Final[dict[str, str]] = {
    "shift_ms": pair_ids.SHIFT,
    "scale": pair_ids.SCALE,
    "offset": pair_ids.OFFSET,
}
"""Change of the curve that each slider sets."""

PICKED: Final[dict[str, str]] = (
    PAIR
    | CHANGE
    | {
        "others": pair_ids.OTHERS,
        "parts": pair_ids.PARTS,
        "interval": pair_ids.INTERVAL,
    }
)
"""Everything on the page that one can set, with its id."""

_CLEARED: Final[dict[str, dict[str, str]]] = {
    ids.CASE: {"repeat": "", "channel": "", "cfc": "", "start_ms": "", "end_ms": ""},
    ids.CHANNEL: {"cfc": ""},
}
"""What loses its meaning when something else is picked."""

_ANOTHER_MODEL: Final = frozenset({ids.CASE, ids.CHANNEL, ids.RELEASE})
"""What leads to another curve of a model, so that a change of the old one has no meaning."""


def address_after(analysis: PairAnalysis, campaign: Campaign, event: Event) -> PairAddress:
    """Return the address that an event leads to; it names the release that is shown."""
    before = PairAddress.from_search(event.search)
    release = before.pair.release or analysis.project.newest_rated(campaign)
    before = replace(before, pair=replace(before.pair, release=release))
    picked, trigger = event.picked, event.trigger
    # A field may report itself before the menus are filled: then there is nothing picked yet.
    if trigger is None or trigger not in PICKED.values() or not any(picked[name] for name in PAIR):
        return before
    if trigger in CHANGE.values():
        named = _named(campaign, before.pair)
        return replace(before, pair=named).changed({name: picked[name] for name in CHANGE})
    after = replace(
        before,
        pair=_pair_after(campaign, trigger, picked),
        parts=tuple(part for part in PARTS if part in (picked["parts"] or ())),
    )
    if trigger in _ANOTHER_MODEL:
        after = after.changed({"shift_ms": 0.0, "scale": 1.0, "offset": 0.0})
    if trigger in {ids.CASE, ids.START, ids.END, pair_ids.INTERVAL}:
        after = after.looking_at(None)
    return after.overlaid(picked["others"] or ())


def window_of(relayout: Mapping[str, Any] | None, whole_ms: Sequence[float]) -> tuple[float, float] | None:
    """Return the time that the picture was zoomed to."""
    said = relayout or {}
    ends = said.get("xaxis.range") or [said.get("xaxis.range[0]"), said.get("xaxis.range[1]")]
    if None in ends:
        return None
    left, right = (float(end) for end in ends)
    return None if left <= whole_ms[0] and right >= whole_ms[1] else (left, right)


def _pair_after(campaign: Campaign, trigger: str, picked: Mapping[str, Any]) -> Address:
    texts = {name: _text(picked[name]) for name in PAIR}
    if trigger == pair_ids.INTERVAL:
        texts |= dict(zip(("start_ms", "end_ms"), map(_text, picked["interval"]), strict=True))
    return _named(campaign, Address(**(texts | _CLEARED.get(trigger, {}))))


def _named(campaign: Campaign, asked: Address) -> Address:
    """Return an address that names everything that is shown, and nothing that the campaign says anyway."""
    shown = menus(campaign, asked)
    named = replace(
        asked,
        release=shown.release.value or asked.release,
        case=shown.case.value or asked.case,
        repeat=asked.repeat if shown.repeat.value is None else shown.repeat.value,
        channel=shown.channel.value or asked.channel,
    )
    try:
        return without_repetition(campaign, named)
    except CorrelateError:  # said when the pair is looked up
        return named


def _text(value: object) -> str:
    """Return what a menu or field holds as an address writes it."""
    if isinstance(value, (int, float)):
        return number_text(value)
    return "" if value is None else str(value)


def dragged(
    analysis: PairAnalysis, search: str | None, values: Mapping[str, Any], theme: str | None
) -> tuple[Any, Any]:
    """Return the rating and the curve while a slider is dragged."""
    address = PairAddress.from_search(search)
    try:
        campaign = analysis.project.campaign()
        address = replace(address, against="", others=()).changed({name: values[name] for name in _CHANGES})
        if values["interval"]:
            start_ms, end_ms = map(number_text, values["interval"])
            address = replace(address, pair=replace(address.pair, start_ms=start_ms, end_ms=end_ms))
        looked = looked_at(analysis, campaign, address)
        window_s = address.window_s
    except CorrelateError:
        return no_update, no_update
    figure = Patch()
    shown = theme_of(theme)
    trace = changed_trace(looked.changed, window_s, theme=shown)
    figure["data"][CHANGED_TRACE] = packed(trace, theme=shown)
    return changed_part(looked), figure


def zoomed(analysis: PairAnalysis, event: Event) -> dict[str, Any]:
    """Return the picture for another time that is looked at."""
    address = PairAddress.from_search(event.search)
    try:
        campaign = analysis.project.campaign()
        looked = looked_at(analysis, campaign, address)
        time = looked.rated.time
        window_ms = window_of(event.picked["zoom"], (1e3 * float(time[0]), 1e3 * float(time[-1])))
        address = address.looking_at(window_ms)
        figure = Patch()
        drawn = picture(analysis, campaign, replace(looked, address=address), theme_of(event.theme))
        figure["data"] = drawn.to_plotly_json()["data"]
    except CorrelateError:
        return {}
    return {"search": address.as_search(), "figure": figure, "window": window_words(address)}


_CHANGES = ("shift_ms", "scale", "offset")


_SLIDERS: Final[dict[str, str]] = {
    "shift": pair_ids.SHIFT,
    "scale": pair_ids.SCALE,
    "offset": pair_ids.OFFSET,
    "interval": pair_ids.INTERVAL,
}


def show(analysis: PairAnalysis, event: Event, *, shown: str | None = None) -> dict[str, Any]:
    """Return everything the page shows after an event but the reasons, which take longer."""
    project = analysis.project
    if event.trigger == pair_ids.ZOOM:
        return dict.fromkeys(outputs(), no_update) | zoomed(analysis, event)
    try:
        campaign = project.campaign()
    except CorrelateError as error:
        return _nothing() | without_campaign(project, error)
    address = address_after(analysis, campaign, event)
    page = _nothing() | _menus(campaign, address)
    if event.trigger in PICKED.values():
        page["search"] = address.as_search()
    try:
        page |= pair_parts(analysis, campaign, address, theme_of(event.theme))
    except CorrelateError as error:
        return page | not_rated(analysis, campaign, address, error)
    plain = replace(address, shift_ms="", scale="", offset="").looking_at(None).as_search()
    return page | {"shown": no_update if plain == shown else plain}


def show_reasons(analysis: PairAnalysis, shown: str | None) -> list[Component]:
    """Return what may lie behind the loss of the pair that is shown."""
    if shown is None:
        return []
    try:
        return reason_parts(analysis, analysis.project.campaign(), PairAddress.from_search(shown))
    except CorrelateError as error:
        return [html.Section([html.H2("No reasons"), html.P(str(error))], className="card")]


def show_scatter(analysis: PairAnalysis, shown: str | None) -> list[Component]:
    """Return the scatter of the hardware beside the rating that is shown."""
    if shown is None:
        return []
    try:
        return scatter_parts(analysis, analysis.project.campaign(), PairAddress.from_search(shown))
    except CorrelateError as error:
        return [html.Span(str(error), className="evidence-mark")]


def show_findings(analysis: PairAnalysis, laboratory: Laboratory, shown: str | None) -> list[Component]:
    """Return what the data check found in the channel that is shown."""
    if shown is None:
        return []
    try:
        campaign = analysis.project.campaign()
        return finding_parts(analysis, laboratory, campaign, PairAddress.from_search(shown))
    except CorrelateError as error:
        return [html.H2("No data check"), html.P(str(error), className="evidence-mark")]


def outputs() -> dict[str, Output]:
    """Return what the callback of the page sets."""
    selects = {name: PICKED[name] for name in ("release", "case", "repeat", "channel", "cfc", "others")}
    fields = {name: PICKED[name] for name in ("start_ms", "end_ms", "parts")}
    properties = {"low": "min", "high": "max", "step": "step", "value": "value"}
    parts = {
        "changes": ids.CHANGES,
        "heading": ids.HEADING,
        "problem": ids.PROBLEM,
        "verdict": ids.VERDICT,
        "details": pair_ids.DETAILS,
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
        "below_hidden": Output(pair_ids.BELOW, "hidden"),
        **{name: Output(part_id, "children") for name, part_id in parts.items()},
        "figure": Output(ids.FIGURE, "figure"),
        "shown": Output(pair_ids.SHOWN, "data"),
        "tab_title": tab_title_of(NAME),
    }


def register(app: Dash, project: Project) -> None:
    """Connect the page with its project."""
    analysis = PairAnalysis(project)
    _register_page(app, analysis)
    _register_after(app, analysis, Laboratory(project))
    _register_live(app, analysis)
    with permitted(app, Role.ANALYST):
        _register_download(app, analysis)
    _register_in_browser(app)
    register_picture(app, NAME, partial(pair_picture, analysis))
    register_stepping(app, project)


def _register_page(app: Dash, analysis: PairAnalysis) -> None:
    """Connect what is shown after a pick or a link."""

    @app.callback(
        output=outputs(),
        inputs={
            "address": address_of(NAME),
            "picked": values_of(PICKED),
            "zoom": Input(pair_ids.ZOOM, "data"),
            "theme": Input(ids.THEME, "data"),
            "shown": State(pair_ids.SHOWN, "data"),
        },
    )
    @expensive
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


def _register_after(app: Dash, analysis: PairAnalysis, laboratory: Laboratory) -> None:
    """Connect what takes longer and follows the curves."""

    @app.callback(Output(pair_ids.SCATTER, "children"), Input(pair_ids.SHOWN, "data"))
    @expensive
    def _scatter(shown: str | None) -> list[Component]:
        return show_scatter(analysis, shown)

    @app.callback(Output(pair_ids.REASONS, "children"), Input(pair_ids.SHOWN, "data"))
    @expensive
    def _reasons(shown: str | None) -> list[Component]:
        return show_reasons(analysis, shown)

    @app.callback(Output(pair_ids.FINDINGS, "children"), Input(pair_ids.SHOWN, "data"))
    @expensive
    def _findings(shown: str | None) -> list[Component]:
        return show_findings(analysis, laboratory, shown)


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
    """Connect what needs no server: zoom, and the menus that a small screen folds away."""
    # dash has no types for clientside callbacks.
    app.clientside_callback(  # type: ignore[no-untyped-call]
        # A picture reports any change of its axes; one of its size would cancel what the server works on.
        ClientsideFunction(namespace="correlatePair", function_name="zoomOf"),
        Output(pair_ids.ZOOM, "data"),
        Input(ids.FIGURE, "relayoutData"),
    )
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction(namespace="correlatePair", function_name="unfold"),
        Output(ids.CONTROLS, "className"),
        Output(pair_ids.UNFOLD, "aria-expanded"),
        Input(pair_ids.UNFOLD, "n_clicks"),
        prevent_initial_call=True,
    )


def _nothing() -> dict[str, Any]:
    """Return a page on which nothing is rated."""
    return dict.fromkeys(outputs(), no_update) | {
        "controls_hidden": False,
        "changes": "",
        "heading": "",
        "problem": "",
        "rated_hidden": True,
        "below_hidden": True,
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
        "others": list(address.overlays),
        "parts": list(address.parts),
    }


PAGE: Final = Page(path=paths.PAIR, name="Pair", layout=layout, register=register)
"""For the application."""
