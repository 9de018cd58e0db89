"""The data page: data of the project, uploads, and channels without a partner."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from dash import Dash, Input, Output, html, no_update
from dash.exceptions import PreventUpdate

from correlate import CorrelateError, counted, holdings, open_store, received_packages, uses_of_package
from dashboard import ids, paths
from dashboard.access import expensive
from dashboard.components.controls import empty_state
from dashboard.components.data import releases_table
from dashboard.components.frame import faulty_campaign, no_campaign
from dashboard.components.health import health_table
from dashboard.components.packages import packages_list
from dashboard.laboratory import laboratory_of, signature_words
from dashboard.menus import menu_of
from dashboard.pages import job_panel
from dashboard.pages.data import inspecting as data_inspecting
from dashboard.pages.data import pairing as data_pairing
from dashboard.pages.data import sending as data_sending
from dashboard.pages.data import using as data_using
from dashboard.pages.data.layout import KEYS, NAME, content
from dashboard.pages.media import register_media
from dashboard.pages.page import Page, address_of, page_parts, tab_title_of
from dashboard.selection import read_query

if TYPE_CHECKING:
    from dash.development.base_component import Component

    from correlate import Campaign, Holdings
    from dashboard.laboratory import Laboratory
    from dashboard.state import Project


def layout(search: str) -> html.Main:
    """Return the page, empty until its callbacks have run."""
    return html.Main([*page_parts(NAME, search), *content()], className="page board data-page")


def show(project: Project, search: str | None) -> dict[str, Any]:
    """Return what the project holds."""
    asked = read_query(search, KEYS)
    try:
        campaign = project.campaign()
    except CorrelateError as error:
        message = faulty_campaign(error) if project.campaign_file.exists() else no_campaign(error)
        return _nothing() | {"problem": message, "tab_title": "No campaign"}
    problem: html.P | None = None
    try:
        held = held_by(project, campaign)
    except CorrelateError as error:
        # The tables of what is on the disk are shown all the same.
        held, problem = holdings(campaign), html.P(str(error), className="job-failure card")
    packages = received_packages(project.folder)
    uses = {one.name: uses_of_package(campaign, one) for one in packages}
    signatures = {one.name: signature_words(project, one) for one in packages}
    names = menu_of({one.name: one.name for one in campaign.releases}, asked["release"])
    return {
        "heading_hidden": False,
        "summary": summary(held),
        "problem": problem,
        "hidden": False,
        "releases": releases_table(held, search),
        "packages": packages_list(packages, uses, signatures, search),
        "release_options": names.options,
        "release": names.value,
        "tab_title": "Data",
    }


def show_health(laboratory: Laboratory, search: str | None, ticks: int | None) -> tuple[list[Component], int]:
    """Return the health of the reference data so far, or why it is unknown, and how many requests to send."""
    try:
        found = laboratory.health(laboratory.project.campaign())
    except CorrelateError as error:
        words = laboratory.project.without_folder(str(error))
        return [empty_state("The health of the reference data is not known", words)], 0
    # 0: no more requests; -1 would mean unlimited.
    return health_table(found, search), (ticks or 0) + 1 if found.waiting else 0


def held_by(project: Project, campaign: Campaign) -> Holdings:
    """Return what a project holds; a store that is not there yet is not made."""
    file = project.folder / "ratings.sqlite"
    if not project.store and not file.exists():
        return holdings(campaign)
    with open_store(project.store or file) as store:
        return holdings(campaign, store.releases(campaign.title))


def summary(held: Holdings) -> str:
    """Return how much a project holds."""
    return (
        f"{counted(len(held.releases), 'release')} of the model, {counted(held.tests, 'test')} in "
        f"{counted(len(held.load_cases), 'load case')}, {counted(held.channels, 'channel')} compared"
    )


def outputs() -> dict[str, Output]:
    """Return what the callback of the page sets."""
    return {
        "heading_hidden": Output(ids.DATA_HEADING, "hidden"),
        "summary": Output(ids.DATA_SUMMARY, "children"),
        "problem": Output(ids.DATA_PROBLEM, "children"),
        "hidden": Output(ids.DATA_SHOWN, "hidden"),
        "releases": Output(ids.DATA_RELEASES, "children"),
        "packages": Output(ids.DATA_PACKAGES, "children"),
        "release_options": Output(ids.DATA_PAIRING_RELEASE, "data"),
        "release": Output(ids.DATA_PAIRING_RELEASE, "value"),
        "tab_title": tab_title_of(NAME),
    }


def register(app: Dash, project: Project) -> None:
    """Connect the page with its project."""

    @app.callback(
        output=outputs(),
        inputs={"address": address_of(NAME), "changed": Input(ids.job_part(NAME, "changed"), "data")},
    )
    def _show(address: dict[str, str], changed: str | None) -> dict[str, Any]:  # noqa: ARG001 - it triggers
        if address["path"] != paths.DATA:
            raise PreventUpdate
        return show(project, address["search"])

    laboratory = laboratory_of(app, project)

    @app.callback(
        Output(ids.DATA_HEALTH, "children"),
        Output(ids.DATA_HEALTH_CLOCK, "max_intervals"),
        inputs={
            "address": address_of(NAME),
            "changed": Input(ids.job_part(NAME, "changed"), "data"),
            "ticks": Input(ids.DATA_HEALTH_CLOCK, "n_intervals"),
        },
    )
    @expensive
    def _show_health(
        address: dict[str, str],
        changed: str | None,  # noqa: ARG001 - it triggers
        ticks: int | None,
    ) -> tuple[list[Component], int]:
        if address["path"] != paths.DATA:
            raise PreventUpdate
        return show_health(laboratory, address["search"], ticks)

    job_panel.register(app, NAME, paths.DATA)
    register_media(app, project)
    data_sending.register(app, project)
    data_inspecting.register(app, project)
    data_using.register(app, project)
    data_pairing.register(app, project)


def _nothing() -> dict[str, Any]:
    # The message has the heading of the page.
    return dict.fromkeys(outputs(), no_update) | {"heading_hidden": True, "problem": "", "hidden": True}


PAGE: Final = Page(path=paths.DATA, name="Data", layout=layout, register=register)
"""For the application."""
