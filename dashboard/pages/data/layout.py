"""The layout of the data page, and its address."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import dash_mantine_components as dmc
from dash import dcc, html

from dashboard import ids
from dashboard.access import Role
from dashboard.components.controls import for_role, labelled, menu
from dashboard.components.data import package_form, results_form
from dashboard.components.states import loading, skeleton
from dashboard.pages.job_panel import panel
from dashboard.uploads import upload_limits

if TYPE_CHECKING:
    from dash.development.base_component import Component


NAME: Final = "data"
"""Of the page, in its ids."""

CLOCK_MS: Final = 100
"""Pause before the next load cases are examined."""

KEYS: Final[tuple[str, ...]] = ("job", "release", "package")
"""The job that is watched, the release whose results lack partners, and the package that is inspected."""


def content() -> list[Component]:
    """Return the places of everything that is shown, and the fields that the account may use."""
    shown = html.Div(
        [
            panel(NAME),
            _inspection(),
            _health(),
            html.Div([_packages(), html.Div([_releases(), _results()])], className="data-columns"),
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
                [html.H2("Releases of the model"), for_role(rate, Role.ANALYST, place="store")],
                className="card-head",
            ),
            html.Div(id=ids.DATA_RATE_SAID, role="status"),
            _scrolled(ids.DATA_RELEASES, "Releases"),
        ],
        className="card",
        **labelled("Releases"),
    )


def _health() -> html.Section:
    return html.Section(
        [
            html.H2("Health of the reference data"),
            html.Div(
                id=ids.DATA_HEALTH, className="health-place", children=skeleton("rows", "Checking the tests")
            ),
            # Each answer allows one more tick while load cases wait, so that no request overtakes another.
            dcc.Interval(id=ids.DATA_HEALTH_CLOCK, interval=CLOCK_MS, max_intervals=0),
        ],
        className="card health-card",
        **labelled("Health of the reference data"),
    )


def _inspection() -> html.Section:
    """Return the place of one package: what is known of it, and what can be done with it."""
    shown = html.Div(
        [
            html.Div(id=ids.DATA_INSPECTED),
            dmc.CheckboxGroup(id=ids.DATA_FINDINGS, children=[], value=[], className="finding-choices"),
            html.Div(id=ids.DATA_REFUSED),
        ]
    )
    return html.Section(
        [
            html.Div(id=ids.DATA_INSPECTION_TITLE, className="card-head"),
            loading(shown, "rows", "Examining the package", {ids.DATA_INSPECTED: "children"}),
            _answer(
                ids.DATA_WAIVE,
                "Waive findings",
                "A waived finding no longer counts as open, here and wherever the test is used.",
                (ids.DATA_WAIVE_WHY, ids.DATA_WAIVE_SEND, "Waive ticked findings"),
            ),
            html.Div(id=ids.DATA_WAIVE_SAID, role="status"),
            _answer(
                ids.DATA_RELEASE,
                "Release from quarantine",
                "The tests can be used then. Errors that are not waived stay open: they are shown wherever "
                "the tests are used, and the gate counts them. Name, time and reason stay with the package.",
                (ids.DATA_RELEASE_WHY, ids.DATA_RELEASE_SEND, "Release package"),
            ),
            html.Div(id=ids.DATA_RELEASE_SAID, role="status"),
            _use(),
            html.Div(id=ids.DATA_USE_SAID, role="status"),
        ],
        id=ids.DATA_INSPECTION,
        hidden=True,
        className="card inspection-card",
        **labelled("Package"),
    )


def _answer(place: str, title: str, advice: str, parts: tuple[str, str, str]) -> html.Div:
    """Return the field for a reason, and the button that somebody answers with."""
    why, send, words = parts
    return html.Div(
        [
            html.H3(title),
            html.P(advice, className="note"),
            html.Div(
                [
                    dmc.TextInput(id=why, label=f"Reason ({title.lower()})"),
                    html.Button(words, id=send, className="button", type="button"),
                ],
                className="answer",
            ),
        ],
        id=place,
        hidden=True,
        className="package-action",
    )


def _use() -> html.Div:
    """Return the fields that say where the tests of a package are used."""
    new = html.Div(
        [
            dmc.TextInput(
                id=ids.DATA_USE_NAME, label="Name of the new load case", placeholder="thorax-impact-2"
            ),
            dmc.TextInput(id=ids.DATA_USE_TITLE, label="Title", placeholder="for display"),
            dmc.NumberInput(id=ids.DATA_USE_FROM, label="From [ms]", hideControls=True),
            dmc.NumberInput(id=ids.DATA_USE_TO, label="To [ms]", hideControls=True),
        ],
        id=ids.DATA_USE_NEW,
        hidden=True,
        className="use-new",
    )
    return html.Div(
        [
            html.H3("Use in campaign"),
            html.P(
                "The tests become repeats of a load case. You see the change before it is written.",
                className="note",
            ),
            html.Div(
                [
                    menu(ids.DATA_USE_CASE, "Load case"),
                    html.Div(
                        menu(ids.DATA_USE_SOURCE, "Tests in the package"),
                        id=ids.DATA_USE_SOURCE_PLACE,
                        hidden=True,
                    ),
                    html.Button("Show the change", id=ids.DATA_USE_SHOW, className="button", type="button"),
                ],
                className="answer",
            ),
            new,
            html.Div(id=ids.DATA_USE_CHANGE, role="status"),
            html.Button(
                "Use in campaign", id=ids.DATA_USE_SEND, className="button", type="button", hidden=True
            ),
            dcc.Store(id=ids.DATA_USE_PLANNED),
        ],
        id=ids.DATA_USE,
        hidden=True,
        className="package-action",
    )


def _packages() -> html.Section:
    form = package_form(upload_limits().bytes)
    return html.Section(
        [
            html.H2("Packages of reference data"),
            for_role(form, Role.LAB, "Importing a package requires the role lab."),
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
        [html.H2("Add the results of a release"), for_role(form, Role.ANALYST, refusal)],
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
            loading(html.Div(id=ids.DATA_OPEN_CHANNELS), "rows", "Comparing channels"),
        ],
        id=ids.DATA_PAIRING,
        className="card",
        **labelled("Channels without a partner"),
    )


def _scrolled(place: str, words: str) -> html.Div:
    """Return the place of a table that may be long, and that keys can scroll."""
    return html.Div(id=place, className="held", tabIndex="0", role="group", **labelled(words))
