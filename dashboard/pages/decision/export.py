"""The report of a release: created in the background, downloaded as HTML and PDF."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dash import Dash, Input, Output, State, html, no_update
from dash.exceptions import PreventUpdate
from flask import Response, abort, send_file

from correlate import CorrelateError
from dashboard import ids, paths
from dashboard.access import Role, current_account, permitted, record
from dashboard.components.data import refusal
from dashboard.jobs import jobs_of_server
from dashboard.pages.decision.layout import KEYS, NAME
from dashboard.selection import read_query, write_query

if TYPE_CHECKING:
    from collections.abc import Mapping


def start(shown: Mapping[str, str] | None, search: str | None) -> tuple[Any, html.P | str]:
    """Start the job that creates the report of the release on the page."""
    if not shown:
        return no_update, refusal("No release is shown; reload the page.")
    told = {"release": shown["release"], "against": shown["against"]}
    try:
        number = jobs_of_server().start("report", told, current_account())
    except CorrelateError as error:
        return no_update, refusal(error)
    return write_query(read_query(search, KEYS) | {"job": number}), ""


def hand_out(number: str, kind: str) -> Response:
    """Return a file of a report; the browser saves it and never opens it in place of the page."""
    try:
        file, name = jobs_of_server().report_file(number, kind)
    except CorrelateError as error:
        abort(404, str(error))
    record("exported the report of a release", name)
    answer: Response = send_file(file, as_attachment=True, download_name=name)
    return answer


def register(app: Dash) -> None:
    """Connect the button and the files."""
    with permitted(app, Role.MANAGER):

        @app.callback(
            Output(ids.address_of(NAME), "search", allow_duplicate=True),
            Output(ids.DECISION_EXPORT_SAID, "children"),
            Input(ids.DECISION_EXPORT, "n_clicks"),
            State(ids.DECISION_SHOWN, "data"),
            State(ids.address_of(NAME), "search"),
            prevent_initial_call=True,
        )
        def _start(clicks: int | None, shown: dict[str, str] | None, search: str | None) -> Any:
            if not clicks:
                raise PreventUpdate
            return start(shown, search)

        app.server.add_url_rule(f"{paths.REPORT}/<number>/<kind>", "report", hand_out)
