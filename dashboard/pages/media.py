"""The photos and films of packages: only those that a package lists, each with the type of its entry."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from flask import Response, abort, send_file

from correlate import CorrelateError, media_file, received_package
from dashboard import paths

if TYPE_CHECKING:
    from dash import Dash

    from dashboard.state import Project

_ENDPOINT: Final = "media"


def hand_out(project: Project, package: str, file: str) -> Response:
    """Return a photo or film that a package of the project lists; browsers ask for parts of films."""
    try:
        folder = project.folder / received_package(project.folder, package).folder
        path, media = media_file(folder, file)
    except CorrelateError:
        abort(404, "No package lists this file.")
    answer: Response = send_file(path, mimetype=media.content_type, conditional=True)
    answer.headers["Cache-Control"] = "private, no-cache"
    return answer


def register_media(app: Dash, project: Project) -> None:
    """Hand out the photos and films of the packages of a project."""

    def answer(package: str, file: str) -> Response:
        return hand_out(project, package, file)

    app.server.add_url_rule(f"{paths.MEDIA}/<package>/<path:file>", _ENDPOINT, answer)
