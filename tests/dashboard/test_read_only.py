"""The dashboard on a project that may only be read: it is shown, and nothing is written nor offered to be."""

from __future__ import annotations

import json
import socket
import subprocess
from contextlib import contextmanager
from typing import TYPE_CHECKING, Any
from urllib.request import Request, urlopen

import pytest

from correlate import CorrelateError, RunInfo, load_campaign, open_store, score_into
from dashboard import state
from dashboard.access import THIS_MACHINE
from dashboard.app import create_app, notice_of
from dashboard.jobs import Jobs
from dashboard.pages.data import layout as data_layout
from dashboard.pages.data import pairing, sending
from dashboard.pages.tuning import layout as tuning_layout
from dashboard.state import Project
from tests.dashboard.printed_address import PrintedAddress
from tests.dashboard.project import write_project
from tests.dashboard.reading import text
from tests.dashboard.served import body_of
from tests.read_only import ROOT, bound, contents, read_only

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from dash import Dash


@pytest.fixture(scope="module")
def archive(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Rate the small project."""
    folder = write_project(tmp_path_factory.mktemp("archived"))
    campaign = load_campaign(folder)
    with open_store(folder / "ratings.sqlite") as store:
        score_into(store, campaign, run=RunInfo.now(), workers=1)
    return folder


@pytest.fixture
def forbidden(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let the project look as to an account that may not write; the system refuses root nothing."""
    monkeypatch.setattr(state, "may_write", lambda _: False)
    monkeypatch.setattr("correlate.store.store.may_write", lambda _: False)


@contextmanager
def at_this_machine(app: Dash) -> Iterator[None]:
    """Be in the middle of a request that the gate let in."""
    with app.server.test_request_context("/", base_url="http://127.0.0.1:8050"):
        assert app.server.preprocess_request() is None
        yield


def asked(address: PrintedAddress, body: dict[str, Any]) -> str:
    """Call the server as a browser does."""
    request = Request(  # noqa: S310 - our own server
        f"{address.origin}/_dash-update-component",
        data=json.dumps(body).encode(),
        headers={"Content-Type": "application/json", **address.headers},
    )
    with urlopen(request, timeout=60) as answer:  # noqa: S310 - our own server
        found: str = answer.read().decode()
        return found


def test_a_read_only_folder_is_served_and_stays_as_it_is(archive: Path) -> None:
    """The real server, bound by permissions: no jobs, the notice, the decision sheet; no byte changes."""
    before = contents(archive)
    app = create_app(archive)
    keys = [
        next(key for key in app.callback_map if word in key)
        for word in ("notice.children", "decision-content")
    ]
    with read_only(archive), _served(archive) as (address, said):
        notice, sheet = (asked(address, _body(app, key)) for key in keys)
    assert said[0] == f"no work in the background: {archive}: the project is read-only\n"
    assert "This project is read-only." in notice
    assert "The ratings shown were saved on 20" in notice
    assert "because there is no permission to write in the project folder" in notice
    assert "Drop onto a plate" in sheet
    assert contents(archive) == before


@contextmanager
def _served(folder: Path) -> Iterator[tuple[PrintedAddress, list[str]]]:
    """Serve a folder, bound by permissions; give the address and what was said until then."""
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        port = probe.getsockname()[1]
    command = bound("-u", "-m", "dashboard", folder, "--port", port)
    with subprocess.Popen(
        command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    ) as server:
        try:
            assert server.stdout
            said: list[str] = []
            printed = PrintedAddress.in_lines(server.stdout, before=said)
            assert printed
            yield printed, said
        finally:
            server.terminate()


def _body(app: Any, key: str) -> dict[str, Any]:
    """Return what the browser sends for a callback when the first page is opened."""
    body = body_of(app, key)
    for one in (*body["inputs"], *body["state"]):
        if isinstance(one, dict):
            one["value"] = {"pathname": "/", "search": ""}.get(one["property"])
    return body


@pytest.mark.usefixtures("forbidden")
def test_the_pages_offer_nothing_that_writes_and_say_why(archive: Path) -> None:
    """Rating, imports, pairing and fitting give the reason in the place of the button."""
    app = create_app(archive)
    reason = "there is no permission to write in the project folder"
    with at_this_machine(app):
        data, tuning = text(data_layout.content()), text(tuning_layout.content())
    assert data.count(f"Disabled: {reason}.") == 2
    assert "Disabled: there is no permission to save ratings." in data
    assert f"Disabled: {reason}." in tuning
    shown = " ".join(text(notice_of(Project(archive))).split())
    assert shown.startswith("This project is read-only. The ratings shown were saved on ")
    assert "Disabled: rating, importing, pairing, fitting, because" in shown


@pytest.mark.usefixtures("forbidden")
def test_the_server_refuses_what_a_page_does_not_offer(archive: Path, tmp_path: Path) -> None:
    """Uploads, pairing and jobs are refused in one sentence, whatever is sent; nothing is written."""
    before = contents(archive)
    project = Project(archive)
    _, said, _ = sending.send_package(project, "data:;base64,AAAA", "a.zip", "")
    assert "the project is read-only: there is no permission to write in the project folder" in text(said)
    wanted = {"case": "drop", "channel": "D0HEAD0000KMACXP", "model": "head x", "sign": "as proposed"}
    assert "the project is read-only" in text(pairing.pair_up(project, "", wanted)[0])
    app = create_app(archive)
    with at_this_machine(app):
        jobs = Jobs(tmp_path)
        for kind, told in (("score", {}), ("fit", {}), ("ingest", {"upload": "u", "file": "f"})):
            with pytest.raises(CorrelateError, match="the project is read-only: there is no permission"):
                jobs.start(kind, told, THIS_MACHINE)
        assert jobs.start("check", {}, THIS_MACHINE)
    assert contents(archive) == before


def test_a_project_that_can_be_written_has_no_notice(archive: Path) -> None:
    """Nothing is said and nothing disabled where nothing is forbidden."""
    assert notice_of(Project(archive)) == []
    with at_this_machine(create_app(archive)):
        assert "Disabled" not in text(data_layout.content())
