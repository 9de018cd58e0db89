"""The emulated curves on the tuning page, which follow sliders, and their sensitivity over time."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
from dash import ALL, ClientsideFunction, Dash, Input, Output, Patch, State, ctx, html, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError, emulated_curve, emulator_of_project, predicted_ratings, tuning_overview
from correlate.plots import (
    channel_title,
    curve_sensitivity_figure,
    drawn_parameters,
    emulated_figure,
    emulated_lines,
)
from dashboard import ids, paths
from dashboard.access import expensive
from dashboard.components.tuning_curves import (
    curves_words,
    moves_words,
    predicted_rating,
    rated_runs,
    sliders,
    spoken,
    trust_words,
    value_text,
)
from dashboard.menus import menu_of
from dashboard.pages.page import address_of, values_of
from dashboard.pages.tuning.layout import CURVE_KEYS, CURVE_PICKED, KEYS, NAME
from dashboard.selection import read_query, write_query
from dashboard.theme import theme_of

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from correlate import ParameterSpace, SavedEmulator, TuningOverview
    from dashboard.menus import Menu
    from dashboard.state import Project

    Floats = NDArray[np.float64]


def show_curves(project: Project, search: str | None, theme: str | None) -> dict[str, Any]:
    """Return everything the two cards show for an address."""
    page: dict[str, Any] = dict.fromkeys(outputs(), no_update)
    try:
        overview = tuning_overview(project.folder)
    except CorrelateError:
        # The runs cannot be read, which is said in their place.
        return page
    saved = overview.curves
    asked = read_query(search, CURVE_KEYS)
    page |= {"words": curves_words(overview), "hidden": True, "moves_hidden": True, "shown": {"asked": asked}}
    if saved is None:
        return page
    case, channel = _menus(saved, asked)
    page |= {
        "hidden": False,
        "case_options": case.options,
        "case": case.value,
        "channel_options": channel.options,
        "channel": channel.value,
        "moves": "change" if asked["moves"] == "change" else "share",
    }
    page["shown"]["menus"] = {key: page[key] for key in CURVE_PICKED}
    if channel.value is None:
        words = "This link refers to a channel that was not emulated; select one above."
        return page | {"trust": html.P(words, className="job-failure"), "body_hidden": True}
    place = _channels(saved, case.value)[channel.value]
    shown, curve = _channel(overview, saved, place, asked, theme)
    return page | curve | {"shown": page["shown"] | shown} | _moves(saved, place, page["moves"], theme)


def moved(
    project: Project, values: Sequence[float], places: Sequence[int], shown: Mapping[str, Any]
) -> tuple[Any, Any, list[str], list[Any]]:
    """Return the curve, its rating, and the values as they are shown and as they are read out."""
    saved = emulator_of_project(project.folder)
    if saved is None or "place" not in shown:
        raise PreventUpdate
    if not shown["place"] < len(saved.emulator.channels):
        raise _another_fit()
    one, cube = saved.emulator.channels[shown["place"]], _cube(saved, values, places)
    said = emulated_curve(one, cube)
    figure = Patch()
    for number, line in enumerate(emulated_lines(said)):
        figure["data"][number]["x"] = line["x"]
        figure["data"][number]["y"] = line["y"]
    rating = predicted_rating(predicted_ratings(one.channel, said.mean, saved.settings))
    stand = list(zip(places, values, strict=True))
    return (
        figure,
        rating,
        [value_text(saved, *one) for one in stand],
        [spoken(saved, *one) for one in stand],
    )


def settled(
    project: Project,
    values: Sequence[float],
    places: Sequence[int],
    search: str | None,
    shown: Mapping[str, Any],
) -> tuple[Any, Any]:
    """Return the address for sliders that no longer move, and record that it is already shown."""
    saved = emulator_of_project(project.folder)
    if saved is None or "base" not in shown:
        return no_update, no_update
    if len(shown["base"]) != len(saved.space.names):
        raise _another_fit()
    at = written_point(saved.space, _cube(saved, values, places), np.array(shown["base"]))
    asked = read_query(search, KEYS)
    # Sliders that stand where the page put them were not moved: meanwhile the address may name another point.
    if at in {asked["at"], shown["asked"].get("at")}:
        return no_update, no_update
    return write_query({"at": at}, search), {**shown, "asked": {**shown["asked"], "at": at}}


def written_point(space: ParameterSpace, cube: Floats, base: Floats) -> str:
    """Return the parameters that differ from a point, as the address writes them."""
    values = space.from_unit(cube)
    return ",".join(
        f"{one.name}:{values[place]:.4g}"
        for place, one in enumerate(space.parameters)
        if abs(cube[place] - base[place]) > _SAME
    )


def read_point(space: ParameterSpace, text: str, base: Floats) -> Floats:
    """Return a point of the unit cube as an address writes it; what it does not name is as in the base."""
    cube = base.copy()
    for part in text.split(","):
        name, _, value = part.partition(":")
        try:
            number = float(value)
        except ValueError:
            continue
        if name in space.names and np.isfinite(number):
            place = space.names.index(name)
            one = space.parameters[place]
            point = space.from_unit(base)
            point[place] = min(max(number, one.lower), one.upper)
            cube[place] = space.to_unit(point)[place]
    return cube


_SAME = 1e-3
"""Differences of a slider, as a share of the range, that are rounding."""


def outputs() -> dict[str, Output]:
    """Return what the callback of the cards sets."""
    return {
        "shown": Output(ids.TUNING_CURVE_SHOWN, "data"),
        "words": Output(ids.TUNING_CURVES_WORDS, "children"),
        "hidden": Output(ids.TUNING_CURVES, "hidden"),
        "case_options": Output(ids.TUNING_CURVE_CASE, "data"),
        "case": Output(ids.TUNING_CURVE_CASE, "value"),
        "channel_options": Output(ids.TUNING_CURVE_CHANNEL, "data"),
        "channel": Output(ids.TUNING_CURVE_CHANNEL, "value"),
        "trust": Output(ids.TUNING_CURVE_TRUST, "children"),
        "body_hidden": Output(ids.TUNING_CURVES_PLACE, "hidden"),
        "figure": Output(ids.TUNING_CURVE_FIGURE, "figure"),
        "predicted": Output(ids.TUNING_CURVE_PREDICTED, "children"),
        "rated": Output(ids.TUNING_CURVE_RATED, "children"),
        "still": Output(ids.TUNING_CURVE_MOVING, "hidden"),
        "sliders": Output(ids.TUNING_CURVE_SLIDERS, "children"),
        "moves_hidden": Output(ids.TUNING_MOVES_PLACE, "hidden"),
        "moves": Output(ids.TUNING_MOVES, "value"),
        "moves_words": Output(ids.TUNING_MOVES_WORDS, "children"),
        "moves_figure": Output(ids.TUNING_MOVES_FIGURE, "figure"),
        "moves_style": Output(ids.TUNING_MOVES_FIGURE, "style"),
    }


_SEARCH = State(ids.address_of(NAME), "search")
_SHOWN = State(ids.TUNING_CURVE_SHOWN, "data")
_SLIDER_VALUES = Input({"type": ids.TUNING_CURVE_SLIDER, "place": ALL}, "value")
_SLIDER_IDS = State({"type": ids.TUNING_CURVE_SLIDER, "place": ALL}, "id")


def register(app: Dash, project: Project) -> None:
    """Connect menus, sliders and buttons."""

    @app.callback(
        output=outputs(),
        inputs={
            "address": address_of(NAME),
            "theme": Input(ids.THEME, "data"),
            "changed": Input(ids.job_part(NAME, "changed"), "data"),
            "shown": _SHOWN,
        },
    )
    @expensive
    def _show(
        address: dict[str, str],
        theme: str | None,
        changed: str | None,  # noqa: ARG001 - it triggers
        shown: dict[str, Any] | None,
    ) -> dict[str, Any]:
        if address["path"] != paths.TUNING:
            raise PreventUpdate
        asked = read_query(address["search"], CURVE_KEYS)
        if ctx.triggered_id == ids.address_of(NAME) and shown and shown["asked"] == asked:
            raise PreventUpdate
        return show_curves(project, address["search"], theme)

    @app.callback(
        Output(ids.address_of(NAME), "search", allow_duplicate=True),
        inputs={
            "picked": values_of(CURVE_PICKED),
            "search": _SEARCH,
            "shown": _SHOWN,
        },
        prevent_initial_call=True,
    )
    def _pick(picked: dict[str, Any], search: str | None, shown: dict[str, Any] | None) -> Any:
        return picked_address(picked, search, shown)

    @app.callback(
        Output(ids.address_of(NAME), "search", allow_duplicate=True),
        Input(ids.TUNING_CURVE_BEST, "n_clicks"),
        Input(ids.TUNING_CURVE_START, "n_clicks"),
        _SEARCH,
        prevent_initial_call=True,
    )
    def _back(_best: int | None, _start: int | None, present: str | None) -> Any:
        saved = emulator_of_project(project.folder)
        at = ""
        if saved is not None and ctx.triggered_id == ids.TUNING_CURVE_START:
            at = ",".join(f"{one.name}:{one.start:.6g}" for one in saved.space.parameters)
        return write_query({"at": at}, present)

    _register_sliders(app, project)


def _register_sliders(app: Dash, project: Project) -> None:
    """Connect what follows a slider."""

    @app.callback(
        Output(ids.TUNING_CURVE_FIGURE, "figure", allow_duplicate=True),
        Output(ids.TUNING_CURVE_PREDICTED, "children", allow_duplicate=True),
        Output({"type": ids.TUNING_CURVE_VALUE, "place": ALL}, "children"),
        Output({"type": ids.TUNING_CURVE_SLIDER, "place": ALL}, "attributes"),
        _SLIDER_VALUES,
        _SLIDER_IDS,
        _SHOWN,
        prevent_initial_call=True,
    )
    def _moved(values: list[float], of: list[dict[str, Any]], shown: dict[str, Any] | None) -> Any:
        if not values or not shown:
            raise PreventUpdate
        return moved(project, values, [one["place"] for one in of], shown)

    # dash has no types for clientside callbacks.
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction(namespace="correlateTuning", function_name="settled"),
        Output(ids.TUNING_CURVE_SETTLED, "data"),
        _SLIDER_VALUES,
        prevent_initial_call=True,
    )

    @app.callback(
        Output(ids.address_of(NAME), "search", allow_duplicate=True),
        Output(ids.TUNING_CURVE_SHOWN, "data", allow_duplicate=True),
        Input(ids.TUNING_CURVE_SETTLED, "data"),
        _SLIDER_IDS,
        _SEARCH,
        _SHOWN,
        prevent_initial_call=True,
    )
    def _settled(
        values: list[float] | None,
        of: list[dict[str, Any]],
        present: str | None,
        shown: dict[str, Any] | None,
    ) -> Any:
        if not values or not shown or len(values) != len(of):
            raise PreventUpdate
        return settled(project, values, [one["place"] for one in of], present, shown)


def picked_address(picked: Mapping[str, Any], search: str | None, shown: Mapping[str, Any] | None) -> Any:
    """Return the address for menus as they were picked; nothing where the page itself filled them."""
    before = (shown or {}).get("menus")
    if before is None or before == dict(picked):
        return no_update
    after = {key: str(value or "") for key, value in picked.items()}
    if picked["case"] != before["case"]:
        after["channel"] = ""
    return write_query(after, search)


def _another_fit() -> CorrelateError:
    """Return the refusal of sliders that do not belong to the present fit."""
    return CorrelateError("the fit has changed since this page was opened", remedy="reload the page")


def _cube(saved: SavedEmulator, values: Sequence[float], places: Sequence[int]) -> Floats:
    """Return the point of the sliders, whose order differs from that of the parameters."""
    if len(values) != len(places) or sorted(places) != list(range(len(saved.space.names))):
        raise _another_fit()
    cube = np.empty(len(places))
    cube[list(places)] = values
    return np.clip(cube, 0.0, 1.0)


def _channels(saved: SavedEmulator, load_case: str | None) -> dict[str, int]:
    """Return the channels of a load case that are rated, with their places."""
    return {
        one.channel.channel: place
        for place, one in enumerate(saved.emulator.channels)
        if one.channel.load_case == load_case and not one.channel.recorded
    }


def _menus(saved: SavedEmulator, asked: Mapping[str, str]) -> tuple[Menu, Menu]:
    cases = dict.fromkeys(one.channel.load_case for one in saved.emulator.channels)
    case = menu_of({name: name for name in cases}, asked["case"])
    names = list(_channels(saved, case.value))
    titles = [channel_title(name) for name in names]
    words = {
        name: f"{title} · {name}" if titles.count(title) > 1 else title
        for name, title in zip(names, titles, strict=True)
    }
    return case, menu_of(words, asked["channel"])


def _channel(
    overview: TuningOverview, saved: SavedEmulator, place: int, asked: Mapping[str, str], theme: str | None
) -> tuple[dict[str, Any], dict[str, Any]]:
    """Return the state of the card of the curve, and what it shows."""
    one = saved.emulator.channels[place]
    marks = {
        name: np.clip(saved.space.to_unit(overview.table.points[row]), 0.0, 1.0)
        for name, row in (("start", overview.start), ("best", overview.best))
        if row is not None
    }
    base = marks.get("best", np.clip(saved.emulator.cube[0], 0.0, 1.0))
    cube = read_point(saved.space, asked["at"], base)
    said = emulated_curve(one, cube)
    start, best = (
        None if row is None else saved.curve_of(overview.table.identities[row], place)
        for row in (overview.start, overview.best)
    )
    moving = bool(one.processes)
    order = saved.sensitivity(place).order
    return {"place": place, "base": base.tolist()}, {
        "trust": trust_words(saved, place),
        "body_hidden": False,
        "figure": emulated_figure(one.channel, said, start, best, theme=theme_of(theme)),
        "predicted": predicted_rating(predicted_ratings(one.channel, said.mean, saved.settings)),
        "rated": rated_runs(overview, one.channel.load_case, one.channel.channel),
        "still": not moving,
        "sliders": sliders(saved, cube, marks, order) if moving else [],
    }


def _moves(saved: SavedEmulator, place: int, shown: Any, theme: str | None) -> dict[str, Any]:
    """Return the card of the sensitivity over time."""
    one, found = saved.emulator.channels[place], saved.sensitivity(place)
    drawn = drawn_parameters(found)
    page = {"moves_words": moves_words(saved, drawn, shown), "moves_hidden": not drawn}
    if not drawn:
        return page
    figure = curve_sensitivity_figure(
        found, saved.space.names, one.channel.unit, shown, theme=theme_of(theme)
    )
    return page | {"moves_figure": figure, "moves_style": {"height": f"{figure.layout.height}px"}}
