"""Uploads on the data page, and the progress of their jobs."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dash import Dash, Input, Output, State, html, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError
from dashboard import ids
from dashboard.access import Role, current_account, permitted
from dashboard.components.data import RESULTS_WORDS, field_words, refusal
from dashboard.jobs import jobs_of_server
from dashboard.pages.data.layout import NAME
from dashboard.selection import write_query
from dashboard.state import read_only
from dashboard.uploads import upload_limits

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dashboard.state import Project


def send_package(
    project: Project, content: str, file: str, search: str | None
) -> tuple[Any, html.P | str, None]:
    """Keep a package that was sent in and start the job that examines it."""
    try:
        number = _started(project, "ingest", content, file, {})
    except CorrelateError as error:
        return no_update, refusal(error), None
    return with_job(search, number), "", None


def send_results(
    project: Project, sent: Mapping[str, str | None], search: str | None
) -> tuple[Any, html.P | str, Any, Any]:
    """Keep the results of a release that were sent in and start the job that reads them."""
    content, file, name = sent["content"], sent["file"], (sent["name"] or "").strip()
    if not name:
        return no_update, refusal("Enter a name for the release."), no_update, no_update
    if not content or not file:
        return no_update, refusal("Choose the zip file with the results."), no_update, no_update
    try:
        told = {"name": name, "note": (sent["note"] or "").strip()}
        number = _started(project, "results", content, file, told)
    except CorrelateError as error:
        return no_update, refusal(error), no_update, no_update
    return with_job(search, number), "", None, None


def start_rating(search: str | None) -> tuple[Any, html.P | str]:
    """Start the job that rates what is not rated."""
    try:
        return with_job(search, jobs_of_server().start("score", {"releases": []}, current_account())), ""
    except CorrelateError as error:
        return no_update, refusal(error)


def with_job(search: str | None, number: str) -> str:
    """Return a query that names a job and is otherwise as it was."""
    return write_query({"job": number}, search)


def register(app: Dash, project: Project) -> None:
    """Connect the fields and the panel of the job."""
    search = State(ids.address_of(NAME), "search")
    to_search = Output(ids.address_of(NAME), "search", allow_duplicate=True)

    with permitted(app, Role.LAB, takes_files=True):

        @app.callback(
            to_search,
            Output(ids.DATA_PACKAGE_SAID, "children"),
            Output(ids.DATA_PACKAGE, "contents"),
            Input(ids.DATA_PACKAGE, "contents"),
            State(ids.DATA_PACKAGE, "filename"),
            search,
            prevent_initial_call=True,
        )
        def _package(content: str | None, file: str | None, present: str | None) -> Any:
            if not content or not file:
                raise PreventUpdate
            return send_package(project, content, file, present)

    with permitted(app, Role.ANALYST, takes_files=True):

        @app.callback(
            to_search,
            Output(ids.DATA_RESULTS_SAID, "children"),
            Output(ids.DATA_RESULTS_FILE, "contents"),
            Output(ids.DATA_RESULTS_FILE, "filename"),
            Input(ids.DATA_RESULTS_SEND, "n_clicks"),
            State(ids.DATA_RESULTS_FILE, "contents"),
            State(ids.DATA_RESULTS_FILE, "filename"),
            State(ids.DATA_RESULTS_NAME, "value"),
            State(ids.DATA_RESULTS_NOTE, "value"),
            search,
            prevent_initial_call=True,
        )
        def _results(clicks: int | None, *sent: str | None) -> Any:
            if not clicks:
                raise PreventUpdate
            names = ("content", "file", "name", "note")
            return send_results(project, dict(zip(names, sent[:-1], strict=True)), sent[-1])

    with permitted(app, Role.ANALYST):

        @app.callback(
            to_search,
            Output(ids.DATA_RATE_SAID, "children"),
            Input(ids.DATA_RATE, "n_clicks"),
            search,
            prevent_initial_call=True,
        )
        def _rate(clicks: int | None, present: str | None) -> Any:
            if not clicks:
                raise PreventUpdate
            return start_rating(present)

    _register_looking(app)


def _register_looking(app: Dash) -> None:
    @app.callback(
        Output(ids.DATA_RESULTS_FILE, "children"),
        Input(ids.DATA_RESULTS_FILE, "filename"),
        prevent_initial_call=True,
    )
    def _chosen(file: str | None) -> Any:
        return field_words(file or RESULTS_WORDS, upload_limits().bytes)


def _started(project: Project, kind: str, content: str, file: str, told: dict[str, str]) -> str:
    """Keep a file and start its job; the file goes again when the job cannot be started."""
    if reason := project.closed("folder"):
        raise read_only(reason)
    return jobs_of_server().start_with_file(kind, file, content, told, current_account())
