"""Using the tests of a package in the campaign: show the change, then write it."""

from __future__ import annotations

from hashlib import sha256
from typing import TYPE_CHECKING, Any

from dash import Dash, Input, Output, State, no_update
from dash.exceptions import PreventUpdate

from correlate import (
    CorrelateError,
    open_store,
    package_tests,
    plan_load_case,
    plan_repeats,
    rated_pairs_of,
    received_package,
    use_package,
)
from dashboard import ids, paths
from dashboard.access import Role, permitted, record
from dashboard.components.data import refusal
from dashboard.components.packages import change_parts, used_parts
from dashboard.pages.data.layout import KEYS, NAME
from dashboard.pages.page import address_of
from dashboard.selection import read_query
from dashboard.state import read_only

if TYPE_CHECKING:
    from correlate import Campaign, PackageUse
    from dashboard.state import Project

NEW = "\n"
"""Value of the entry for a new load case; no load case has a line break in its name."""

FIELDS = {
    "case": ids.DATA_USE_CASE,
    "source": ids.DATA_USE_SOURCE,
    "name": ids.DATA_USE_NAME,
    "title": ids.DATA_USE_TITLE,
    "start": ids.DATA_USE_FROM,
    "end": ids.DATA_USE_TO,
}
"""What is asked for, by its field."""


def choices(project: Project, search: str | None) -> dict[str, Any]:
    """Return the menus of load cases and of the tests in the package of the address."""
    nothing: dict[str, Any] = {"cases": [], "sources": [], "source": None, "source_hidden": True}
    name = read_query(search, KEYS)["package"]
    if not name:
        return nothing
    try:
        campaign = project.campaign()
        sources = list(package_tests(project.folder, received_package(project.folder, name)))
    except CorrelateError:
        # The inspection says what is wrong with the package.
        return nothing
    cases = [{"value": one.name, "label": one.title or one.name} for one in campaign.load_cases]
    return {
        "cases": [{"value": NEW, "label": "New load case …"}, *cases],
        "sources": [{"value": one, "label": one} for one in sources],
        "source": sources[0],
        "source_hidden": len(sources) < 2,
    }


def planned(project: Project, search: str | None, told: dict[str, Any]) -> PackageUse:
    """Return what would change with what is in the fields."""
    if reason := project.closed("folder"):
        raise read_only(reason)
    package = read_query(search, KEYS)["package"]
    case, source = told["case"], told["source"] or ""
    if not case:
        raise CorrelateError("no load case is selected", remedy="select one, or create a new one")
    if case != NEW:
        return plan_repeats(project.campaign_file, package, load_case=case, source=source)
    if not isinstance(told["start"], int | float) or not isinstance(told["end"], int | float):
        raise CorrelateError("the interval is not complete", remedy="give both times in milliseconds")
    return plan_load_case(
        project.campaign_file,
        package,
        name=(told["name"] or "").strip(),
        title=told["title"] or "",
        interval_ms=(float(told["start"]), float(told["end"])),
        source=source,
    )


def show_change(project: Project, search: str | None, told: dict[str, Any]) -> dict[str, Any]:
    """Return what would change, and that it may be written now."""
    try:
        use = planned(project, search, told)
        campaign = project.campaign()
        present = 0 if use.is_new else len(campaign.tests(campaign.load_case(use.load_case)))
        parts = change_parts(use, present, stale_ratings(project, campaign, use))
    except CorrelateError as error:
        words = project.without_folder(str(error))
        return {"change": refusal(words), "hidden": True, "planned": None, "said": ""}
    return {"change": parts, "hidden": False, "planned": mark_of(use, told), "said": ""}


def use_planned(project: Project, search: str | None, shown: dict[str, Any]) -> dict[str, Any]:
    """Write the change that was shown; refuse where it would be another one now."""
    try:
        use = _as_shown(planned(project, search, shown["told"]), shown)
        campaign = use_package(use)
    except CorrelateError as error:
        said = refusal(project.without_folder(str(error)))
        return {"said": said, "changed": no_update, "change": [], "hidden": True, "planned": None}
    record("used a package", f"{use.package} in load case {use.load_case}: {', '.join(use.tests)}")
    return {
        "said": used_parts(use, stale_ratings(project, campaign, use)),
        "changed": campaign.sha256,
        "change": [],
        "hidden": True,
        "planned": None,
    }


def _as_shown(use: PackageUse, shown: dict[str, Any]) -> PackageUse:
    """Return a planned change, or refuse one that is not what the person saw."""
    if mark_of(use, shown["told"]) != shown:
        raise CorrelateError(
            "the campaign file or the package has changed in the meantime", remedy="show the change again"
        )
    return use


def mark_of(use: PackageUse, told: dict[str, Any]) -> dict[str, Any]:
    """Return what tells one planned change from another: the fields, and both texts of the campaign file."""
    texts = f"{use.before}\0{use.after}".encode()
    return {"told": told, "sha256": sha256(texts).hexdigest()}


def stale_ratings(project: Project, campaign: Campaign, use: PackageUse) -> dict[str, int]:
    """Return the rated pairs by release that a change makes stale; none where there is no store yet."""
    file = project.folder / "ratings.sqlite"
    if use.is_new or (not project.store and not file.exists()):
        return {}
    with open_store(project.store or file) as store:
        return rated_pairs_of(store, campaign, use.load_case)


def register(app: Dash, project: Project) -> None:
    """Connect the fields of the use of a package."""
    search = State(ids.address_of(NAME), "search")
    fields = {name: State(field, "value") for name, field in FIELDS.items()}

    @app.callback(
        output={
            "cases": Output(ids.DATA_USE_CASE, "data"),
            "sources": Output(ids.DATA_USE_SOURCE, "data"),
            "source": Output(ids.DATA_USE_SOURCE, "value"),
            "source_hidden": Output(ids.DATA_USE_SOURCE_PLACE, "hidden"),
        },
        inputs={"address": address_of(NAME), "changed": Input(ids.job_part(NAME, "changed"), "data")},
    )
    def _choices(address: dict[str, str], changed: str | None) -> dict[str, Any]:  # noqa: ARG001 - it triggers
        if address["path"] != paths.DATA:
            raise PreventUpdate
        return choices(project, address["search"])

    @app.callback(Output(ids.DATA_USE_NEW, "hidden"), Input(ids.DATA_USE_CASE, "value"))
    def _new(case: str | None) -> bool:
        return case != NEW

    with permitted(app, Role.ANALYST):

        @app.callback(
            output={
                "change": Output(ids.DATA_USE_CHANGE, "children"),
                "hidden": Output(ids.DATA_USE_SEND, "hidden"),
                "planned": Output(ids.DATA_USE_PLANNED, "data"),
                "said": Output(ids.DATA_USE_SAID, "children"),
            },
            inputs={"clicks": Input(ids.DATA_USE_SHOW, "n_clicks")},
            state={"present": search, "told": fields},
            prevent_initial_call=True,
        )
        def _show(clicks: int | None, present: str | None, told: dict[str, Any]) -> dict[str, Any]:
            if not clicks:
                raise PreventUpdate
            return show_change(project, present, told)

        @app.callback(
            output={
                "said": Output(ids.DATA_USE_SAID, "children", allow_duplicate=True),
                "changed": Output(ids.job_part(NAME, "changed"), "data", allow_duplicate=True),
                "change": Output(ids.DATA_USE_CHANGE, "children", allow_duplicate=True),
                "hidden": Output(ids.DATA_USE_SEND, "hidden", allow_duplicate=True),
                "planned": Output(ids.DATA_USE_PLANNED, "data", allow_duplicate=True),
            },
            inputs={"clicks": Input(ids.DATA_USE_SEND, "n_clicks")},
            state={"present": search, "shown": State(ids.DATA_USE_PLANNED, "data")},
            prevent_initial_call=True,
        )
        def _use(clicks: int | None, present: str | None, shown: dict[str, Any] | None) -> dict[str, Any]:
            if not clicks or not shown:
                raise PreventUpdate
            return use_planned(project, present, shown)
