"""The predictions that were saved with the batches, compared with the ratings of the runs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dash import Dash, Input, Output, html, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError, kept_predictions, tuning_overview
from correlate.plots import kept_predictions_figure
from dashboard import ids, paths
from dashboard.access import expensive
from dashboard.components.tuning_curves import kept_table, kept_words
from dashboard.menus import menu_of
from dashboard.pages.tuning.layout import NAME
from dashboard.theme import theme_of

if TYPE_CHECKING:
    from dashboard.state import Project


def show_predictions(project: Project, outcome: str | None, theme: str | None) -> dict[str, Any]:
    """Return everything the card shows for an outcome, by default the first objective."""
    page: dict[str, Any] = dict.fromkeys(outputs(), no_update)
    try:
        overview = tuning_overview(project.folder)
    except CorrelateError:
        # That the runs cannot be read is stated in the card of the runs.
        return page
    try:
        found = kept_predictions(overview.tuning, overview.state, overview.table)
    except CorrelateError as error:
        return page | {"words": html.P(str(error), className="job-failure"), "hidden": True}
    names = dict.fromkeys(one.outcome for one in found)
    chosen = menu_of({name: name for name in names}, outcome or "")
    shown = [one for one in found if one.outcome == chosen.value]
    proposed = int((overview.table.rounds > 0).sum())
    page |= {"words": html.P(kept_words(shown, proposed)), "hidden": not shown}
    if not shown:
        return page
    return page | {
        "options": chosen.options,
        "outcome": chosen.value,
        "figure": kept_predictions_figure(shown, theme=theme_of(theme)),
        "table": kept_table(shown),
    }


def outputs() -> dict[str, Output]:
    """Return what the callback of the card sets."""
    return {
        "words": Output(ids.TUNING_KEPT_WORDS, "children"),
        "hidden": Output(ids.TUNING_KEPT_PLACE, "hidden"),
        "options": Output(ids.TUNING_KEPT_OUTCOME, "data"),
        "outcome": Output(ids.TUNING_KEPT_OUTCOME, "value"),
        "figure": Output(ids.TUNING_KEPT_FIGURE, "figure"),
        "table": Output(ids.TUNING_KEPT_TABLE, "children"),
    }


def register(app: Dash, project: Project) -> None:
    """Connect the card."""

    @app.callback(
        output=outputs(),
        inputs={
            "path": Input(ids.address_of(NAME), "pathname"),
            "changed": Input(ids.job_part(NAME, "changed"), "data"),
            "outcome": Input(ids.TUNING_KEPT_OUTCOME, "value"),
            "theme": Input(ids.THEME, "data"),
        },
    )
    @expensive
    def _show(path: str, changed: str | None, outcome: str | None, theme: str | None) -> dict[str, Any]:  # noqa: ARG001 - it triggers
        if path != paths.TUNING:
            raise PreventUpdate
        return show_predictions(project, outcome, theme)
