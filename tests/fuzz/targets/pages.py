"""What browsers send: bodies of callbacks, addresses, uploads, the forms of the accounts."""

from __future__ import annotations

import json
import logging
from contextlib import contextmanager
from functools import cache
from pathlib import Path
from tempfile import mkdtemp
from typing import TYPE_CHECKING, Any, Final

from flask import got_request_exception

from dashboard.access.account import server_callbacks
from dashboard.app import create_app
from dashboard.uploads import UploadLimits, keep_uploads
from tests.dashboard.project import write_project
from tests.dashboard.served import ORIGIN, body_of, page_token, sign_in, with_accounts
from tests.fuzz.rounds import Target
from tests.fuzz.watching import Wrong

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from dash import Dash
    from flask.testing import FlaskClient

    from tests.fuzz.mutations import Case

_TRACED = ("dashboard",)
_SEARCHES: Final = {
    "/pair": "?release=A2&case=drop&channel=D0HEAD0000KMACXP&cfc=600&start=0&end=40&shift=0.5&model_sign=-1",
    "/matrix": "?release=A1&against=A2&sort=rating",
    "/repeats": "?case=drop&channel=D0HEAD0000KMACXP&align=1",
    "/": "?release=A2&against=A1",
}


class Site:
    """The application of a small project, with a client that a role has signed in."""

    def __init__(self) -> None:
        self.folder = Path(mkdtemp(prefix="fuzz-site-"))
        self.app: Dash = create_app(write_project(self.folder / "project"))
        with_accounts(self.app, self.folder)
        logging.getLogger(self.app.server.name).setLevel(logging.CRITICAL)
        self.client: FlaskClient = self.app.server.test_client()
        sign_in(self.client, "admin")
        self.token = page_token(self.client)

    def answer(self, method: str, path: str, **sent: Any) -> None:
        """Send a request; raise what the server caught, and `Wrong` where it gives no words."""
        with _raised(self.app) as caught:
            found = self.client.open(path, method=method, base_url=ORIGIN, buffered=True, **sent)
        if caught:
            raise caught[0]
        if found.status_code >= 500:
            raise Wrong(f"status {found.status_code}")
        if found.status_code >= 400 and not found.text.strip():
            raise Wrong(f"status {found.status_code} without a word")
        if str(self.folder) in found.text:
            raise Wrong("the answer holds a path of the server")


@contextmanager
def _raised(app: Dash) -> Iterator[list[BaseException]]:
    """Collect the errors for which the server answers with status 500."""
    caught: list[BaseException] = []

    def note(_: Any, exception: BaseException, **__: Any) -> None:
        caught.append(exception)

    with got_request_exception.connected_to(note, app.server):
        yield caught


@cache
def _site() -> Site:
    return Site()


# Callbacks --------------------------------------------------------------------------------------------


def _callback_seeds(_: Path) -> list[Case]:
    site = _site()
    bodies = [body_of(site.app, key) for key in server_callbacks(site.app)]
    return [{"body.json": json.dumps(body).encode()} for body in bodies]


def _call(files: Path) -> None:
    site = _site()
    content = _only(files)
    headers = {"X-CSRFToken": site.token, "Content-Type": "application/json"}
    site.answer("POST", "/_dash-update-component", data=content, headers=headers)


def _only(files: Path) -> bytes:
    return b"".join(path.read_bytes() for path in sorted(files.rglob("*")) if path.is_file())


# Addresses --------------------------------------------------------------------------------------------


def _address_seeds(_: Path) -> list[Case]:
    return [{"page.query": f"{path}{search}".encode()} for path, search in _SEARCHES.items()]


def _visit(files: Path) -> None:
    """Ask for a page, and send what the page sends: its address, to every callback that listens to it."""
    site = _site()
    path, _, search = _only(files).decode("utf-8", "replace").partition("?")
    site.answer("GET", "/" + path.lstrip("/").partition("#")[0][:2000], query_string=search)
    headers = {"X-CSRFToken": site.token}
    for body in _listening(site):
        for part in ("inputs", "state"):
            _fill(body[part], path=path, search=f"?{search}")
        site.answer("POST", "/_dash-update-component", json=body, headers=headers)


def _listening(site: Site) -> list[dict[str, Any]]:
    bodies = [body_of(site.app, key) for key in server_callbacks(site.app)]
    return [body for body in bodies if '"search"' in json.dumps(body["inputs"] + body["state"])]


def _fill(entries: list[Any], *, path: str, search: str) -> None:
    for entry in entries:
        if isinstance(entry, list):
            _fill(entry, path=path, search=search)
        elif entry.get("property") in {"search", "pathname"}:
            entry["value"] = search if entry["property"] == "search" else path


# Uploads ----------------------------------------------------------------------------------------------


def _upload_seeds(_: Path) -> list[Case]:
    upload = {"names": ["a.csv", "b.csv"], "contents": ["data:text/csv;base64,YQ==", "data:;base64,Yg=="]}
    return [{"upload.json": json.dumps(upload).encode()}]


def _upload(files: Path) -> None:
    try:
        sent = json.loads(_only(files))
        names, contents = sent["names"], sent["contents"]
    except (ValueError, LookupError, TypeError, RecursionError):
        return
    whole = isinstance(names, list) and isinstance(contents, list) and len(names) == len(contents)
    if not whole or not all(isinstance(one, str) for one in (*names, *contents)):
        # What a page sends is compared with what its callback accepts before it comes here.
        return
    folder = files.parent / "out" / "upload"
    kept = keep_uploads(folder, names, contents, limits=UploadLimits(bytes=1000, files=4))
    if any(path.parent != folder or not path.is_file() for path in kept):
        raise Wrong("an upload is not in its folder")


# Forms ------------------------------------------------------------------------------------------------


def _form_seeds(_: Path) -> list[Case]:
    forms = (
        {"path": "/sign-in", "name": "viewer", "password": "not this one", "next": "/pair?release=A1"},
        {"path": "/account", "current": "not this one", "new": "another of the kelp fronds"},
        {"path": "/sign-out", "everywhere": "1"},
    )
    return [{"form.json": json.dumps(form).encode()} for form in forms]


def _send_form(files: Path) -> None:
    site = _site()
    try:
        form = json.loads(_only(files))
        path = str(form.pop("path"))
    except (ValueError, LookupError, TypeError, AttributeError, RecursionError):
        return
    if path == "/sign-out":
        path = "/sign-in"
    fields = {str(key): str(value) for key, value in form.items()}
    sent = {"csrf_token": site.token, **fields}
    address = "/" + path.lstrip("/")[:2000]
    site.answer("POST", address, data=_encodable(sent), headers={"X-CSRFToken": site.token})


def _encodable(fields: dict[str, str]) -> dict[str, str]:
    """Return fields as a browser would send them, which knows no half characters."""
    return {
        key.encode(errors="replace").decode(): value.encode(errors="replace").decode()
        for key, value in fields.items()
    }


def _target(
    name: str, seeds: Callable[[Path], list[Case]], run: Callable[[Path], None], inputs: int
) -> Target:
    return Target(name=name, seeds=seeds, run=run, traced=_TRACED, inputs=inputs)


TARGETS = (
    _target("callbacks", _callback_seeds, _call, 80),
    _target("addresses", _address_seeds, _visit, 2),
    _target("uploads", _upload_seeds, _upload, 80),
    _target("forms", _form_seeds, _send_form, 60),
)
