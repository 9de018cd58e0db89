"""The layout of the data page, and its address."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from dash import dcc, html

from dashboard import ids
from dashboard.access import Role, current_account
from dashboard.components.controls import labelled, menu
from dashboard.components.data import package_form, results_form
from dashboard.components.states import skeleton
from dashboard.pages.job_panel import panel
from dashboard.state import Place, closed
from dashboard.uploads import upload_limits

if TYPE_CHECKING:
    from dash.development.base_component import Component


NAME: Final = "data"
"""Of the page, in its ids."""

KEYS: Final[tuple[str, ...]] = ("job", "release")
"""The job that is watched, and the release whose results lack partners."""


def content() -> list[Component]:
    """Return the places of everything that is shown, and the fields that the account may use."""
    shown = html.Div(
        [
            panel(NAME),
            html.Div([_releases(), _tests()], className="data-columns"),
            html.Div([_packages(), _results()], className="data-columns"),
            _pairing(),
        ],
        id=ids.DATA_SHOWN,
        hidden=True,
    )
    heading = html.Div([html.H1("Data"), html.P(id=ids.DATA_SUMMARY, className="heading-case")])
    return [
        html.Div(heading, id=ids.DATA_HEADING, className="heading"),
        html.Div(id=ids.DATA_PROBLEM),
        shown,
    ]


def _releases() -> html.Section:
    rate = html.Button("Rate unrated pairs", id=ids.DATA_RATE, className="button", type="button")
    return html.Section(
        [
            html.Div(
                [html.H2("Releases of the model"), _for_role(rate, Role.ANALYST, place="store")],
                className="card-head",
            ),
            html.Div(id=ids.DATA_RATE_SAID, role="status"),
            _scrolled(ids.DATA_RELEASES, "Releases"),
        ],
        className="card",
        **labelled("Releases"),
    )


def _tests() -> html.Section:
    return html.Section(
        [
            html.Div(html.H2("Tests"), className="card-head"),
            _scrolled(ids.DATA_TESTS, "Load cases"),
        ],
        className="card",
        **labelled("Tests"),
    )


def _packages() -> html.Section:
    form = package_form(upload_limits().bytes)
    return html.Section(
        [
            html.H2("Packages of reference data"),
            _for_role(form, Role.LAB, "Importing a package requires the role lab."),
            html.H3("Uploaded packages"),
            html.Div(id=ids.DATA_PACKAGES),
        ],
        className="card",
        **labelled("Packages"),
    )


def _results() -> html.Section:
    form = results_form(upload_limits().bytes)
    refusal = "Adding results requires the role analyst."
    return html.Section(
        [html.H2("Add the results of a release"), _for_role(form, Role.ANALYST, refusal)],
        id=ids.DATA_RESULTS,
        className="card",
        **labelled("Results of a release"),
    )


def _pairing() -> html.Section:
    return html.Section(
        [
            html.Div(
                [
                    html.H2("Test channels without a partner"),
                    menu(ids.DATA_PAIRING_RELEASE, "in the results of"),
                ],
                className="card-head pairing-head",
            ),
            html.Div(id=ids.DATA_PAIRING_SAID, role="status"),
            dcc.Loading(
                html.Div(id=ids.DATA_OPEN_CHANNELS),
                custom_spinner=skeleton("rows", "Comparing channels"),
                delay_show=300,
                overlay_style={"visibility": "visible"},
            ),
        ],
        id=ids.DATA_PAIRING,
        className="card",
        **labelled("Channels without a partner"),
    )


def _scrolled(place: str, words: str) -> html.Div:
    """Return the place of a table that may be long, and that keys can scroll."""
    return html.Div(id=place, className="held", tabIndex="0", role="group", **labelled(words))


def _for_role(form: Component, least: Role, refusal: str = "", *, place: Place = "folder") -> html.Div:
    """Return a form, hidden where account or project forbid its use; the server refuses it in any case."""
    if current_account().role.allows(least):
        reason = closed(place)
        if not reason:
            return html.Div(form)
        refusal = f"Disabled: {reason}."
    # It stays on the page, unseen, because callbacks name its fields.
    said = html.P(refusal, className="note") if refusal else None
    return html.Div([said, html.Div(form, hidden=True)])
