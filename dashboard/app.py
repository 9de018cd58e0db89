"""The factory of the application."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from dash import ClientsideFunction, Dash, Input, Output
from dash.exceptions import DependencyException, InvalidResourceError

from dashboard import ids, theme
from dashboard.components.frame import frame
from dashboard.headers import protect
from dashboard.pages import pair
from dashboard.state import Project

if TYPE_CHECKING:
    from pathlib import Path

_PAGE: Final = """<!DOCTYPE html>
<html lang="en">
<head>
{%metas%}
<title>{%title%}</title>
<link rel="icon" type="image/svg+xml" href="MARK">
<style>STYLE</style>
<script src="assets/before_paint.js"></script>
{%css%}
</head>
<body>
<noscript>This page draws curves and needs JavaScript, all of it from this server.</noscript>
{%app_entry%}
<footer hidden>{%config%}{%scripts%}{%renderer%}</footer>
</body>
</html>
"""


def create_app(project: Path) -> Dash:
    """Build the application for one project.

    Parameters
    ----------
    project
        Folder that holds ``campaign.toml``; it may still be empty.

    Returns
    -------
    dash.Dash
        Everything it loads comes from its own server.
    """
    app = Dash(
        "dashboard",
        use_pages=False,
        serve_locally=True,
        enable_mcp=False,
        title="correlate",
        update_title="",
        index_string=_PAGE.replace("MARK", theme.mark()).replace("STYLE", theme.style_sheet()),
        # Loaded in the head by the page itself, before anything is painted.
        assets_ignore=r"before_paint\.js",
    )
    app.layout = frame(pair.layout())
    _register_theme(app)
    pair.register(app, Project(project))
    protect(app)
    for refused in (DependencyException, InvalidResourceError):
        app.server.register_error_handler(refused, lambda _: ("There is no such file.", 404))
    return app


def _register_theme(app: Dash) -> None:
    # dash has no types for these two.
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction(namespace="correlate", function_name="chooseTheme"),
        Output(ids.PROVIDER, "forceColorScheme"),
        Output(ids.THEME, "data"),
        Input(ids.THEME_CHOICE, "value"),
    )
    app.clientside_callback(  # type: ignore[no-untyped-call]
        ClientsideFunction(namespace="correlate", function_name="nameTab"), Input(ids.TAB_TITLE, "data")
    )
