"""The panel of a page that shows a background job: progress, cancel button, result."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dash import Dash, Input, Output, State, dcc, html, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError
from dashboard import ids
from dashboard.access import Role, current_account, permitted, record
from dashboard.components.controls import labelled
from dashboard.components.data import job_parts
from dashboard.jobs import jobs_of_server
from dashboard.pages.page import address_of
from dashboard.selection import read_query

if TYPE_CHECKING:
    from dash.development.base_component import Component

KEY = "job"
"""Of the query: the number of the job, so that a reload or a link shows it again."""


def panel(page: str) -> html.Div:
    """Return the place of the panel, hidden until there is a job."""
    shown: list[Component] = [
        html.Div(id=ids.job_part(page, "said"), role="status"),
        html.Button(
            "Cancel", id=ids.job_part(page, "cancel"), className="button", type="button", hidden=True
        ),
    ]
    return html.Div(
        [
            html.Section(
                shown,
                id=ids.job_part(page, "panel"),
                className="card job-card",
                hidden=True,
                **labelled("Background job"),
            ),
            dcc.Interval(id=ids.job_part(page, "clock"), interval=700, disabled=True),
            dcc.Store(id=ids.job_part(page, "changed")),
        ],
        className="job-place",
    )


def watch(search: str | None) -> dict[str, Any]:
    """Return how the job in the address goes."""
    number = read_query(search, [KEY])[KEY]
    quiet = {"hidden": True, "said": "", "quiet": True, "cancel_hidden": True, "changed": no_update}
    if not number:
        return quiet
    try:
        state = jobs_of_server().state(number)
    except CorrelateError as error:
        said = [html.H2("Unknown job"), html.P(str(error), className="note")]
        return quiet | {"hidden": False, "said": said}
    account = current_account()
    own = state.who == account.name or account.role.allows(Role.ADMIN)
    return {
        "hidden": False,
        "said": job_parts(state),
        "quiet": state.over,
        "cancel_hidden": state.over or state.cancelling or not own,
        "changed": f"{number} is over" if state.over else no_update,
    }


def cancel(search: str | None) -> None:
    """Ask the job in the address to end."""
    try:
        jobs_of_server().cancel(read_query(search, [KEY])[KEY], current_account())
    except CorrelateError as error:
        # It was never there: the panel says so at its next look.
        record("could not cancel a job", str(error))


def register(app: Dash, page: str, path: str) -> None:
    """Connect the panel of a page."""

    @app.callback(
        output={
            "hidden": Output(ids.job_part(page, "panel"), "hidden"),
            "said": Output(ids.job_part(page, "said"), "children"),
            "quiet": Output(ids.job_part(page, "clock"), "disabled"),
            "cancel_hidden": Output(ids.job_part(page, "cancel"), "hidden"),
            "changed": Output(ids.job_part(page, "changed"), "data"),
        },
        inputs={"address": address_of(page), "beats": Input(ids.job_part(page, "clock"), "n_intervals")},
    )
    def _watch(address: dict[str, str], beats: int | None) -> dict[str, Any]:  # noqa: ARG001 - it triggers
        if address["path"] != path:
            raise PreventUpdate
        return watch(address["search"])

    with permitted(app, Role.ANALYST):

        @app.callback(
            Output(ids.job_part(page, "cancel"), "disabled"),
            Input(ids.job_part(page, "cancel"), "n_clicks"),
            State(ids.address_of(page), "search"),
            prevent_initial_call=True,
        )
        def _cancel(clicks: int | None, present: str | None) -> bool:
            if clicks:
                cancel(present)
            return False
