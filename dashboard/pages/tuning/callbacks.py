"""The tuning page: the runs, which parameters influence the ratings, and which runs to make next."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from dash import Dash, Input, Output, html, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError, add_design_points, load_tuning, runs_for_a_fit, tuning_overview
from correlate.plots import front_figure, parallel_axes_figure, progress_figure
from dashboard import ids, paths
from dashboard.access import Role, expensive, permitted
from dashboard.components.controls import number
from dashboard.components.data import refusal
from dashboard.components.frame import problem
from dashboard.components.states import not_yet
from dashboard.components.tuning import (
    add_words,
    bounds,
    columns,
    heading,
    next_words,
    no_design_words,
    rows,
)
from dashboard.pages import job_panel
from dashboard.pages.page import Page, page_parts, tab_title_of
from dashboard.pages.tuning import curves, predictions
from dashboard.pages.tuning import fit as tuning_fit
from dashboard.pages.tuning.layout import NAME, content
from dashboard.state import read_only
from dashboard.theme import theme_of

if TYPE_CHECKING:
    from pathlib import Path

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
        **_next(next_words(overview), overview.lacking_points),
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
        "next_hidden": Output(ids.TUNING_NEXT, "hidden"),
        "next_words": Output(ids.TUNING_NEXT_WORDS, "children"),
        "add_hidden": Output(ids.TUNING_ADD, "hidden"),
        "add_words": Output(ids.TUNING_ADD, "children"),
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
    @expensive
    def _show(path: str, changed: str | None, theme: str | None) -> dict[str, Any]:  # noqa: ARG001 - it triggers
        if path != paths.TUNING:
            raise PreventUpdate
        return show_runs(project, theme)

    with permitted(app, Role.ANALYST, audited="added design points"):

        @app.callback(
            Output(ids.job_part(NAME, "changed"), "data", allow_duplicate=True),
            Output(ids.TUNING_ADD_SAID, "children"),
            Input(ids.TUNING_ADD, "n_clicks"),
            prevent_initial_call=True,
        )
        def _add(clicks: int | None) -> tuple[Any, html.P]:
            if not clicks:
                raise PreventUpdate
            return add_points(project, clicks)

    job_panel.register(app, NAME, paths.TUNING)
    tuning_fit.register(app, project)
    curves.register(app, project)
    predictions.register(app, project)


def add_points(project: Project, clicks: int) -> tuple[Any, html.P]:
    """Add the design points that a fit lacks, and return what changed and how that went."""
    try:
        if reason := project.closed("folder"):
            raise read_only(reason)
        count = add_design_points(project.folder)
    except CorrelateError as error:
        return no_update, refusal(error)
    words = f"{count} point{'' if count == 1 else 's'} added to design.csv and not run yet."
    return f"points were added {clicks} times", html.P(words, className="note")


def _next(words: list[Component], points: int) -> dict[str, Any]:
    """Return what is to be done next, with the button that adds design points where some are lacking."""
    return {
        "next_hidden": not words,
        "next_words": words,
        "add_hidden": not points,
        "add_words": add_words(points),
    }


def _figures(overview: TuningOverview, theme: Theme) -> dict[str, Any]:
    # One round is one point in a figure: two sentences say more.
    compared = len(overview.rounds) > 1
    shown: dict[str, Any] = {
        "all_runs": no_update,
        "progress": progress_figure(overview.rounds, theme=theme) if compared else no_update,
        "progress_words": bounds(overview) if compared else _one_round(overview),
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


def _one_round(overview: TuningOverview) -> list[Component]:
    """Return the numbers of the only round, and how there will be another."""
    if not overview.rounds:
        return [html.P(NOT_YET, className="note")]
    only = overview.rounds[0]
    values = [*only.raised.items(), *((f"{case}, held out", value) for case, value in only.held_out.items())]
    rows = [html.Div([html.Dt(name), html.Dd(number(value))]) for name, value in values]
    words = (
        "Only the design has been run. A round is added when runs that were proposed are finished; "
        "the figure of the rounds appears with the first one."
    )
    at_bound = bounds(overview)
    return [
        html.P("Best run of the design (round 0):"),
        html.Dl(rows, className="rated-runs"),
        html.P(words, className="note"),
        *([] if at_bound is None else [at_bound]),
    ]


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
    empty = dict.fromkeys(outputs(), no_update) | {"heading": "", "hidden": True, **_next([], 0)}
    if not (project.folder / "tuning.toml").exists():
        return empty | {"problem": _no_tuning(project), "tab_title": "No tuning"}
    try:
        tuning = load_tuning(project.folder)
    except CorrelateError:
        tuning = None
    if tuning is not None and not tuning.design_file.exists():
        points = runs_for_a_fit(tuning)
        return empty | {
            "heading": [html.H1(tuning.title or "Tuning"), html.P("No design yet", className="heading-case")],
            "problem": "",
            **_next(no_design_words(tuning), points),
            "tab_title": "No design",
        }
    advice = html.P("Correct the file and reload this page.", className="way-out")
    message = problem("The tuning project cannot be read", error, way_out=advice)
    return empty | {"problem": message, "tab_title": "Tuning cannot be read"}


def _no_tuning(project: Project) -> html.Section:
    folder = project.folder
    words = (
        "Tuning varies parameters of the model between bounds, runs the solver, rates every run like a "
        "release, and proposes the next runs. This page then shows the runs, the influence of the "
        "parameters, and the proposals."
    )
    file = (
        "Write a file tuning.toml beside campaign.toml: the parameters with their bounds, how a run is "
        "started, and what is maximised."
    )
    commands = html.Div(["Choose the design points and run them:", _commands("design", "run", folder=folder)])
    return not_yet("No tuning in this project yet", words, [file, commands, "Reload this page."])


def _commands(*steps: str, folder: Path) -> html.Pre:
    return html.Pre("\n".join(f"correlate tune {step} {folder}" for step in steps), tabIndex="0")


PAGE: Final = Page(path=paths.TUNING, name="Tuning", layout=layout, register=register)
"""For the application."""
