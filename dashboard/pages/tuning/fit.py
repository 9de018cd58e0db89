"""The fitted surrogates on the tuning page, and the export of selected proposals."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dash import Dash, Input, Output, State, ctx, html, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError, proposals_csv, tuning_overview
from correlate.plots import predicted_figure, sensitivity_figure, slice_figure
from dashboard import ids, paths
from dashboard.access import Role, current_account, expensive, permitted, record
from dashboard.components.data import refusal
from dashboard.components.tuning import fit_words, outcome_words, proposal_list
from dashboard.jobs import jobs_of_server
from dashboard.menus import Menu, menu_of
from dashboard.pages.page import Event, address_of, search_of, values_of
from dashboard.pages.tuning.layout import FIT_KEYS, KEYS, NAME, PICKED, asked_for, ticked_numbers
from dashboard.selection import read_query, write_query
from dashboard.theme import theme_of

if TYPE_CHECKING:
    from collections.abc import Mapping

    from correlate import TuningFit, TuningOverview
    from dashboard.state import Project


def show_fit(project: Project, event: Event) -> dict[str, Any]:
    """Return everything the page shows of the kept fit."""
    nothing = dict.fromkeys(outputs(), no_update)
    try:
        overview = tuning_overview(project.folder)
    except CorrelateError:
        # The runs cannot be read, which is said in their place.
        return nothing
    asked = asked_for(event)
    shown = {key: asked[key] for key in FIT_KEYS}
    page = nothing | {
        "asked": shown,
        "words": fit_words(overview),
        "start_disabled": not overview.can_be_fitted,
        "hidden": True,
        "proposals": proposal_list(overview),
    }
    if event.trigger in PICKED.values():
        page["search"] = write_query(asked, event.search)
    if overview.fit is None:
        return page | {"ticked": []}
    count = len(overview.fit.proposals)
    ticked = [str(number) for number in ticked_numbers(asked["ticked"]) if number < count]
    return page | {"ticked": ticked} | _figures(overview, overview.fit, asked, event.theme)


def export(project: Project, search: str | None) -> tuple[Any, html.P | str]:
    """Return the ticked proposals as a file, or why there is none."""
    numbers = ticked_numbers(read_query(search, KEYS)["ticked"])
    if not numbers:
        return no_update, refusal("No proposal is selected.")
    try:
        text = proposals_csv(tuning_overview(project.folder), numbers)
    except CorrelateError as error:
        return no_update, refusal(error)
    record("exported proposed runs", f"{len(numbers)} of them")
    return {"content": text, "filename": "proposed-runs.csv", "type": "text/csv"}, ""


def start_fit(search: str | None) -> tuple[Any, html.P | str]:
    """Start the job that fits the surrogates."""
    try:
        number = jobs_of_server().start("fit", {}, current_account())
    except CorrelateError as error:
        return no_update, refusal(error)
    # The proposals will be others, so none of them is ticked.
    return write_query({"job": number, "ticked": ""}, search), ""


def outputs() -> dict[str, Output]:
    """Return what the callback of the fit sets."""
    return {
        "search": search_of(NAME),
        "asked": Output(ids.TUNING_FIT_ASKED, "data"),
        "words": Output(ids.TUNING_FIT_WORDS, "children"),
        "start_disabled": Output(ids.TUNING_FIT_START, "disabled"),
        "hidden": Output(ids.TUNING_FIT_SHOWN, "hidden"),
        "outcome_options": Output(ids.TUNING_OUTCOME, "data"),
        "outcome": Output(ids.TUNING_OUTCOME, "value"),
        "along_options": Output(ids.TUNING_ALONG, "data"),
        "along": Output(ids.TUNING_ALONG, "value"),
        "outcome_words": Output(ids.TUNING_OUTCOME_WORDS, "children"),
        "sensitivity": Output(ids.TUNING_SENSITIVITY, "figure"),
        "predicted": Output(ids.TUNING_PREDICTED, "figure"),
        "slice": Output(ids.TUNING_SLICE, "figure"),
        "proposals": Output(ids.TUNING_PROPOSALS, "children"),
        "ticked": Output(ids.TUNING_CHOSEN, "value"),
    }


def register(app: Dash, project: Project) -> None:
    """Connect the menus, the ticks and the buttons."""
    search = State(ids.address_of(NAME), "search")

    @app.callback(
        output=outputs(),
        inputs={
            "address": address_of(NAME),
            "picked": values_of(PICKED),
            "theme": Input(ids.THEME, "data"),
            "changed": Input(ids.job_part(NAME, "changed"), "data"),
            "asked": State(ids.TUNING_FIT_ASKED, "data"),
        },
    )
    @expensive
    def _show(
        address: dict[str, str],
        picked: dict[str, Any],
        theme: str | None,
        changed: str | None,  # noqa: ARG001 - it triggers
        asked: dict[str, str] | None,
    ) -> dict[str, Any]:
        if address["path"] != paths.TUNING:
            raise PreventUpdate
        # A slider of the curves changes the address too.
        if ctx.triggered_id == ids.address_of(NAME) and asked == read_query(address["search"], FIT_KEYS):
            raise PreventUpdate
        event = Event(trigger=ctx.triggered_id, search=address["search"], picked=picked, theme=theme)
        return show_fit(project, event)

    with permitted(app, Role.ANALYST):

        @app.callback(
            Output(ids.address_of(NAME), "search", allow_duplicate=True),
            Output(ids.TUNING_FIT_SAID, "children"),
            Input(ids.TUNING_FIT_START, "n_clicks"),
            search,
            prevent_initial_call=True,
        )
        def _fit(clicks: int | None, present: str | None) -> Any:
            if not clicks:
                raise PreventUpdate
            return start_fit(present)

        @app.callback(
            Output(ids.TUNING_FILE, "data"),
            Output(ids.TUNING_EXPORT_SAID, "children"),
            Input(ids.TUNING_EXPORT, "n_clicks"),
            search,
            prevent_initial_call=True,
        )
        def _export(clicks: int | None, present: str | None) -> Any:
            if not clicks:
                raise PreventUpdate
            return export(project, present)


def _figures(
    overview: TuningOverview, fit: TuningFit, asked: Mapping[str, str], theme: str | None
) -> dict[str, Any]:
    outcomes, parameters = _menus(overview, fit, asked)
    shown = {
        "hidden": False,
        "outcome_options": outcomes.options,
        "outcome": outcomes.value,
        "along_options": parameters.options,
        "along": parameters.value,
    }
    if outcomes.value is None or parameters.value is None:
        return shown | {
            "outcome_words": "This link refers to something that was not fitted; select it above."
        }
    surrogate, colours = fit.surrogates[outcomes.value], theme_of(theme)
    row = overview.best if overview.best is not None else int(surrogate.rows[0])
    place = overview.table.space.names.index(parameters.value)
    shown |= {
        "outcome_words": outcome_words(surrogate),
        "predicted": predicted_figure(surrogate, theme=colours),
        "slice": slice_figure(surrogate, overview.table, place, overview.table.points[row], theme=colours),
    }
    if outcomes.value in fit.sensitivities:
        shown["sensitivity"] = sensitivity_figure(fit.sensitivities[outcomes.value], theme=colours)
    return shown


def _menus(overview: TuningOverview, fit: TuningFit, asked: Mapping[str, str]) -> tuple[Menu, Menu]:
    """Return the outcomes that were fitted, and the parameters, the one that moves most first."""
    moving = [name for name in fit.surrogates if name in fit.sensitivities]
    outcomes = menu_of({name: name for name in moving}, asked["outcome"])
    names = list(overview.table.space.names)
    if outcomes.value is not None:
        first = fit.sensitivities[outcomes.value].strongest(0.0)
        names = [*first, *(name for name in names if name not in first)]
    return outcomes, menu_of({name: name for name in names}, asked["along"])
