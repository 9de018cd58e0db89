"""Inspecting a package on the data page: waive findings, release it from quarantine."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from dash import Dash, Input, Output, State, html, no_update
from dash.exceptions import PreventUpdate

from correlate import (
    CorrelateError,
    load_waivers,
    package_media,
    package_tests,
    received_package,
    refuse_unreadable,
    release_package,
    uses_of_package,
    waive_in_package,
    with_waivers,
)
from correlate.plots import as_sentence
from dashboard import ids, paths
from dashboard.access import Role, current_account, expensive, permitted, record
from dashboard.components.controls import empty_state
from dashboard.components.data import refusal
from dashboard.components.laboratory import drawn_finding
from dashboard.components.packages import (
    InspectedPackage,
    finding_choices,
    finding_key,
    inspection_head,
    inspection_parts,
)
from dashboard.laboratory import laboratory_of, signature_words
from dashboard.pages.data.layout import KEYS, NAME
from dashboard.pages.page import address_of
from dashboard.selection import read_query
from dashboard.state import read_only
from dashboard.theme import theme_of

if TYPE_CHECKING:
    from collections.abc import Sequence

    import plotly.graph_objects as go
    from dash.development.base_component import Component

    from correlate import Finding
    from dashboard.laboratory import Laboratory
    from dashboard.state import Project

MOST_DRAWN = 8
"""Findings whose curve is drawn; the worst are first, and the others are listed."""


def inspected(laboratory: Laboratory, name: str) -> InspectedPackage:
    """Return what is known of a package now."""
    project = laboratory.project
    package = received_package(project.folder, name)
    if package.problem:
        raise CorrelateError(package.problem, remedy="upload the package again")
    checked = laboratory.examined(package)
    outcome = with_waivers(checked.outcome, load_waivers(project.folder))
    refused = ""
    try:
        refuse_unreadable(outcome.findings)
    except CorrelateError as error:
        refused = str(error)
    return InspectedPackage(
        package=package,
        signature=signature_words(project, package),
        media=package_media(project.folder / package.folder),
        tests=package_tests(project.folder, package),
        outcome=outcome,
        checked=f"{checked.moment:%Y-%m-%d %H:%M} UTC",
        uses=uses_of_package(project.campaign(), package),
        refusal=refused,
    )


def inspect(laboratory: Laboratory, search: str | None, theme: str | None) -> dict[str, Any]:
    """Return what the page shows of the package in the address."""
    name = read_query(search, KEYS)["package"]
    if not name:
        return _nothing()
    try:
        one = inspected(laboratory, name)
    except CorrelateError as error:
        words = laboratory.project.without_folder(str(error))
        return _nothing() | {
            "hidden": False,
            "title": inspection_head(name, None, search),
            "parts": [empty_state("This package cannot be shown", words)],
        }
    drawn = _drawn(laboratory, one, theme)
    tidy = laboratory.project.without_folder
    quarantine, may_lab = one.package.quarantine, current_account().role.allows(Role.LAB)
    writable = not laboratory.project.closed("folder")
    findings = one.outcome.findings
    return {
        "hidden": False,
        "title": inspection_head(name, one.package, search),
        "parts": inspection_parts(one, drawn, tidy),
        "findings": finding_choices(drawn, tidy, may_waive=may_lab and writable and not one.refusal),
        "waive_hidden": not (findings and may_lab and writable and not one.refusal),
        "release_hidden": not (quarantine and may_lab and writable and not one.refusal),
        "refused": _refused(one, laboratory, may_lab=may_lab),
        "use_hidden": quarantine or not writable or not current_account().role.allows(Role.ANALYST),
    }


def waive_picked(
    laboratory: Laboratory, search: str | None, keys: Sequence[str], why: str | None
) -> tuple[html.P, Any]:
    """Waive the selected findings of the package in the address."""
    try:
        project = _writable(laboratory.project)
        one = inspected(laboratory, read_query(search, KEYS)["package"])
        picked = [finding for finding in one.outcome.findings if finding_key(finding) in keys]
        book = waive_in_package(
            project.campaign(), one.package, picked, who=current_account().name, why=why or ""
        )
    except CorrelateError as error:
        return refusal(error), no_update
    words = "; ".join(f"{finding.short_place} {finding.kind}" for finding in picked)
    record("waived findings", f"{one.package.name}: {words}")
    count = len(picked)
    said = f"{count} {'finding is' if count == 1 else 'findings are'} waived in waivers.toml."
    return html.P(said, className="job-end"), f"{len(book.waivers)} waivers"


def release(laboratory: Laboratory, search: str | None, why: str | None) -> tuple[html.P, Any]:
    """Release the package in the address from quarantine."""
    try:
        project = _writable(laboratory.project)
        name = read_query(search, KEYS)["package"]
        freed = release_package(project.folder, name, who=current_account().name, why=why or "")
    except CorrelateError as error:
        return refusal(laboratory.project.without_folder(str(error))), no_update
    words = freed.released.words if freed.released else ""
    record("released a package from quarantine", f"{name}: {words}")
    said = f"Package {name} is in {freed.folder} and can be used in the campaign."
    return html.P(said, className="job-end"), f"{name}: {words}"


def outputs() -> dict[str, Output]:
    """Return what the callback of the inspection sets."""
    return {
        "hidden": Output(ids.DATA_INSPECTION, "hidden"),
        "title": Output(ids.DATA_INSPECTION_TITLE, "children"),
        "parts": Output(ids.DATA_INSPECTED, "children"),
        "findings": Output(ids.DATA_FINDINGS, "children"),
        "waive_hidden": Output(ids.DATA_WAIVE, "hidden"),
        "release_hidden": Output(ids.DATA_RELEASE, "hidden"),
        "refused": Output(ids.DATA_REFUSED, "children"),
        "use_hidden": Output(ids.DATA_USE, "hidden"),
    }


def register(app: Dash, project: Project) -> None:
    """Connect the inspection of a package."""
    laboratory = laboratory_of(app, project)
    changed = Output(ids.job_part(NAME, "changed"), "data", allow_duplicate=True)
    search = State(ids.address_of(NAME), "search")

    @app.callback(
        output=outputs(),
        inputs={
            "address": address_of(NAME),
            "theme": Input(ids.THEME, "data"),
            "changed": Input(ids.job_part(NAME, "changed"), "data"),
        },
    )
    @expensive
    def _inspect(address: dict[str, str], theme: str | None, changed: str | None) -> dict[str, Any]:  # noqa: ARG001
        if address["path"] != paths.DATA:
            raise PreventUpdate
        return inspect(laboratory, address["search"], theme)

    with permitted(app, Role.LAB):

        @app.callback(
            Output(ids.DATA_WAIVE_SAID, "children"),
            changed,
            Input(ids.DATA_WAIVE_SEND, "n_clicks"),
            State(ids.DATA_FINDINGS, "value"),
            State(ids.DATA_WAIVE_WHY, "value"),
            search,
            prevent_initial_call=True,
        )
        def _waive(clicks: int | None, keys: list[str] | None, why: str | None, present: str | None) -> Any:
            if not clicks:
                raise PreventUpdate
            return waive_picked(laboratory, present, keys or [], why)

        @app.callback(
            Output(ids.DATA_RELEASE_SAID, "children"),
            changed,
            Input(ids.DATA_RELEASE_SEND, "n_clicks"),
            State(ids.DATA_RELEASE_WHY, "value"),
            search,
            prevent_initial_call=True,
        )
        def _release(clicks: int | None, why: str | None, present: str | None) -> Any:
            if not clicks:
                raise PreventUpdate
            return release(laboratory, present, why)


def _writable(project: Project) -> Project:
    """Return the project, or refuse where nothing can be written."""
    if reason := project.closed("folder"):
        raise read_only(reason)
    return project


def _drawn(
    laboratory: Laboratory, one: InspectedPackage, theme: str | None
) -> list[tuple[Finding, go.Figure | None]]:
    """Return the open findings, the worst of them with their curves."""
    worst = one.outcome.findings[:MOST_DRAWN]
    recordings = laboratory.recordings({finding.file for finding in worst})
    drawn: list[tuple[Finding, go.Figure | None]] = [
        (finding, drawn_finding(finding, recordings, theme_of(theme))) for finding in worst
    ]
    return drawn + [(finding, None) for finding in one.outcome.findings[MOST_DRAWN:]]


def _refused(one: InspectedPackage, laboratory: Laboratory, *, may_lab: bool) -> Component | str:
    """Return why this account cannot release the package or waive its findings."""
    if one.refusal:
        words = laboratory.project.without_folder(one.refusal)
        return html.P(f"This package cannot be released. {as_sentence(words)}", className="job-failure")
    if not may_lab and (one.package.quarantine or one.outcome.findings):
        words = "Waiving findings and releasing a package from quarantine requires the role lab."
        return html.P(words, className="note")
    return ""


def _nothing() -> dict[str, Any]:
    return dict.fromkeys(outputs(), "") | {
        "hidden": True,
        "findings": [],
        "parts": [],
        "waive_hidden": True,
        "release_hidden": True,
        "use_hidden": True,
    }
