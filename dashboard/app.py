"""The factory of the application."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from dash import ALL, ClientsideFunction, Input, Output, State, html
from dash.exceptions import DependencyException, InvalidResourceError

from correlate import CorrelateError
from dashboard import ids, theme
from dashboard.access import THIS_MACHINE, Role, current_account, permitted
from dashboard.answers import answer_in_words
from dashboard.components.frame import account_link, campaign_words, frame, read_only_notice
from dashboard.delivery import Application, asset, deliver
from dashboard.headers import protect
from dashboard.pages import page as missing
from dashboard.pages.data import callbacks as data
from dashboard.pages.decision import callbacks as decision
from dashboard.pages.dummies import callbacks as dummies
from dashboard.pages.matrix import callbacks as matrix
from dashboard.pages.pair import callbacks as pair
from dashboard.pages.received import check_received
from dashboard.pages.repeats import callbacks as repeats
from dashboard.pages.scoreboard import callbacks as scoreboard
from dashboard.pages.tuning import callbacks as tuning
from dashboard.state import Project, offer_project

if TYPE_CHECKING:
    from pathlib import Path

    from dash import Dash
    from dash.development.base_component import Component

    from dashboard.access import Account
    from dashboard.pages.page import Page

PAGES: Final[tuple[Page, ...]] = (
    decision.PAGE,
    scoreboard.PAGE,
    matrix.PAGE,
    pair.PAGE,
    repeats.PAGE,
    tuning.PAGE,
    dummies.PAGE,
    data.PAGE,
)
"""In the order of the menu; the first path is that of the decision sheet, ``/``."""

_PAGE: Final = """<!DOCTYPE html>
<html lang="en">
<head>
{%metas%}
<title>{%title%}</title>
<link rel="icon" type="image/svg+xml" href="MARK">
<style>STYLE</style>
<meta id="grid-source" content="GRID_SOURCE">
<script src="BEFORE_PAINT"></script>
{%css%}
</head>
<body>
<noscript>This page draws curves and needs JavaScript, all of it from this server.</noscript>
{%app_entry%}
<footer hidden>{%config%}{%scripts%}{%renderer%}</footer>
</body>
</html>
"""


def create_app(project: Path, *, store: str = "") -> Dash:
    """Build the application for one project."""
    app = Application(
        "dashboard",
        use_pages=False,
        serve_locally=True,
        enable_mcp=False,
        title="correlate",
        update_title="",
        index_string=_PAGE.replace("MARK", theme.mark())
        .replace("STYLE", theme.style_sheet())
        .replace("BEFORE_PAINT", asset("before_paint.js")),
        # Loaded in the head by the page itself, before anything is painted.
        assets_ignore=r"before_paint\.js",
    )
    links = [(page.path, page.name) for page in PAGES]
    app.layout = frame(links)
    # What could come onto the page, so that dash knows the components its callbacks name.
    app.validation_layout = html.Div(  # type: ignore[assignment]  # dash types it as None
        [frame(links), *(page.layout("") for page in PAGES)]
    )
    kept = Project(project, store)
    offer_project(app, kept)
    # Looking is for everybody with an account; a page that hands out or changes something asks for more.
    with permitted(app, Role.VIEWER):
        _register_frame(app, kept)
        for page in PAGES:
            page.register(app, kept)
    protect(app)
    check_received(app)
    answer_in_words(app)
    deliver(app)
    for refused in (DependencyException, InvalidResourceError):
        app.server.register_error_handler(refused, lambda _: ("File not found.", 404))
    return app


def page_at(path: str, search: str) -> tuple[Component, str]:
    """Return the page of an address, and what the tab is called until the page knows better."""
    wanted = path.rstrip("/") or "/"
    for page in PAGES:
        if page.path == wanted:
            return page.layout(search), page.name
    return missing.layout(path, PAGES), missing.NAME


def head_of(project: Project, account: Account) -> list[Component]:
    """Return what the head says of the campaign and of the person who is signed in.

    A campaign that cannot be read is no matter of the head: the page says it.
    """
    who: list[Component] = [] if account == THIS_MACHINE else [account_link(account.name)]
    try:
        campaign = project.campaign()
    except CorrelateError:
        return who
    return [*campaign_words(campaign.title, campaign.device), *who]


def notice_of(project: Project) -> list[Component]:
    """Return that the project is read-only and what that means; nothing where everything can be written."""
    folder, store = project.closed("folder"), project.closed("store")
    if not folder and not store:
        return []
    try:
        rated = project.last_rated(project.campaign())
    except CorrelateError:
        # The page says what is wrong with the campaign.
        rated = ""
    return [read_only_notice(folder=folder, store=store, rated=rated)]


def _register_frame(app: Dash, project: Project) -> None:
    @app.callback(
        Output(ids.CONTENT, "children"),
        Output(ids.PAGE_NAME, "data"),
        Output(ids.CAMPAIGN, "children"),
        Output(ids.NOTICE, "children"),
        Input(ids.ADDRESS, "pathname"),
        State(ids.ADDRESS, "search"),
    )
    def _show(
        path: str | None, search: str | None
    ) -> tuple[Component, str, list[Component], list[Component]]:
        page, name = page_at(path or "/", search or "")
        return page, name, head_of(project, current_account()), notice_of(project)

    # dash has no types for clientside callbacks.
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction(namespace="correlate", function_name="chooseTheme"),
        Output(ids.PROVIDER, "forceColorScheme"),
        Output(ids.THEME, "data"),
        Input(ids.THEME_CHOICE, "value"),
    )
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction(namespace="correlate", function_name="nameTab"),
        Input(ids.PAGE_NAME, "data"),
        Input({"type": ids.TAB_TITLE, "page": ALL}, "data"),
    )
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction(namespace="correlate", function_name="markPage"),
        Input(ids.ADDRESS, "pathname"),
    )
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction(namespace="correlate", function_name="carrySelection"),
        Output({"type": ids.PAGE_LINK, "path": ALL}, "href"),
        Input(ids.ADDRESS, "search"),
        State({"type": ids.PAGE_LINK, "path": ALL}, "id"),
        State(ids.SHARED_KEYS, "data"),
    )
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction(namespace="correlate", function_name="copyLink"),
        Output(ids.LINK_COPIED, "children"),
        Input(ids.COPY_LINK, "n_clicks"),
        Input(ids.ADDRESS, "href"),
    )
