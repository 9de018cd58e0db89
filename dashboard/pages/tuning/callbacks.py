"""The tuning page: the runs, which parameters influence the ratings, and which runs to make next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from dash import Dash, Input, Output, html, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError, tuning_overview
from correlate.plots import front_figure, parallel_axes_figure, progress_figure
from dashboard import ids, paths
from dashboard.components.frame import problem
from dashboard.components.tuning import bounds, columns, heading, rows
from dashboard.pages import job_panel
from dashboard.pages.page import Page, page_parts, tab_title_of
from dashboard.pages.tuning import curves, predictions
from dashboard.pages.tuning import fit as tuning_fit
from dashboard.pages.tuning.layout import NAME, content
from dashboard.theme import theme_of

if TYPE_CHECKING:
    from dash.development.base_component import Component

    from correlate import TuningOverview
    from correlate.plots import Theme
    from dashboard.state import Project


NOT_YET: Final = "No runs to compare yet."


def layout(search: str) -> html.Main:
    """Return the page, empty until its callbacks have run."""
    return html.Main([*page_parts(NAME, search), *content()], className="page board tuning-page")


def show_runs(project: Project, theme: str | None) -> dict[str, Any]:
    """Return everything the page shows of the runs."""
    try:
        overview = tuning_overview(project.folder)
    except CorrelateError as error:
        return _nothing(project, error)
    shown = {
        "heading": heading(overview),
        "problem": _not_compared(overview),
        "hidden": False,
        "columns": columns(overview),
        "rows": rows(overview),
        "tab_title": "Tuning",
    }
    return shown | _figures(overview, theme_of(theme))


def outputs() -> dict[str, Output]:
    """Return what the callback of the runs sets."""
    return {
        "heading": Output(ids.TUNING_HEADING, "children"),
        "problem": Output(ids.TUNING_PROBLEM, "children"),
        "hidden": Output(ids.TUNING_SHOWN, "hidden"),
        "columns": Output(ids.TUNING_GRID, "columnDefs"),
        "rows": Output(ids.TUNING_GRID, "rowData"),
        "all_runs": Output(ids.TUNING_ALL_RUNS, "figure"),
        "progress": Output(ids.TUNING_PROGRESS, "figure"),
        "progress_words": Output(ids.TUNING_PROGRESS_WORDS, "children"),
        "progress_hidden": Output(ids.TUNING_PROGRESS_PLACE, "hidden"),
        "front": Output(ids.TUNING_FRONT, "figure"),
        "front_words": Output(ids.TUNING_FRONT_WORDS, "children"),
        "front_hidden": Output(ids.TUNING_FRONT_PLACE, "hidden"),
        "tab_title": tab_title_of(NAME),
    }


def register(app: Dash, project: Project) -> None:
    """Connect the page with its project."""

    @app.callback(
        output=outputs(),
        inputs={
            "path": Input(ids.address_of(NAME), "pathname"),
            "changed": Input(ids.job_part(NAME, "changed"), "data"),
            "theme": Input(ids.THEME, "data"),
        },
    )
    def _show(path: str, changed: str | None, theme: str | None) -> dict[str, Any]:  # noqa: ARG001 - it triggers
        if path != paths.TUNING:
            raise PreventUpdate
        return show_runs(project, theme)

    job_panel.register(app, NAME, paths.TUNING)
    tuning_fit.register(app, project)
    curves.register(app, project)
    predictions.register(app, project)


def _figures(overview: TuningOverview, theme: Theme) -> dict[str, Any]:
    compared = bool(overview.rounds)
    shown: dict[str, Any] = {
        "all_runs": no_update,
        "progress": progress_figure(overview.rounds, theme=theme) if compared else no_update,
        "progress_words": bounds(overview) if compared else html.P(NOT_YET, className="note"),
        "progress_hidden": not compared,
        "front": no_update,
        "front_words": _front_words(overview),
        "front_hidden": overview.front is None,
    }
    if overview.counts.get("done"):
        goal = overview.tuning.goal.outcomes
        # What is raised stands last: by it the lines are told apart.
        others = [name for name in ("train", "held-out") if name in overview.table.outcomes]
        axes = [*(name for name in others if name not in goal), *reversed(goal)]
        shown["all_runs"] = parallel_axes_figure(overview.table, axes, theme=theme, best=overview.best)
    if overview.front is not None:
        shown["front"] = front_figure(overview.table, overview.front, theme=theme)
    return shown


def _front_words(overview: TuningOverview) -> html.P:
    goal = overview.tuning.goal
    if overview.front is not None:
        words = f"{len(overview.front.rows)} runs are not beaten by any other run in all objectives."
    elif len(goal.outcomes) == 1:
        words = f"There is one objective, {goal.outcomes[0]}, so there is no trade-off."
    else:
        words = NOT_YET
    return html.P(words, className="note")


def _not_compared(overview: TuningOverview) -> html.P | str:
    if not overview.problem or not len(overview.table):
        return ""
    return html.P(f"The runs cannot be compared yet: {overview.problem}", className="job-failure card")


def _nothing(project: Project, error: CorrelateError) -> dict[str, Any]:
    file = project.folder / "tuning.toml"
    if not file.exists():
        message = problem("No tuning in this project yet", error, way_out=_how_to_begin(project))
        title = "No tuning"
    elif not (project.folder / "design.csv").exists():
        ways = html.Pre(f"correlate tune design {project.folder}\ncorrelate tune run {project.folder}")
        message = problem("There is no design yet", error, way_out=ways)
        title = "No design"
    else:
        advice = html.P("Correct the file and reload this page.", className="way-out")
        message = problem("The tuning project cannot be read", error, way_out=advice)
        title = "Tuning cannot be read"
    empty = dict.fromkeys(outputs(), no_update)
    return empty | {"heading": "", "problem": message, "hidden": True, "tab_title": title}


def _how_to_begin(project: Project) -> Component:
    return html.Div(
        [
            html.P(
                "A file tuning.toml beside the campaign defines which parameters of the model may vary, "
                "how a run is started and what is maximised. Then design and run:"
            ),
            html.Pre(f"correlate tune design {project.folder}\ncorrelate tune run {project.folder}"),
        ],
        className="way-out",
    )


PAGE: Final = Page(path=paths.TUNING, name="Tuning", layout=layout, register=register)
"""For the application."""
