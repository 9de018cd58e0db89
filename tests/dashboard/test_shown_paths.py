"""No answer of a server with accounts contains a folder of the server, whatever is wrong with the project."""

from __future__ import annotations

import sys
from pathlib import Path
from typing import TYPE_CHECKING, Final

import pytest

from correlate import RunInfo, load_campaign, open_store, score_into
from dashboard.access.account import server_callbacks
from dashboard.app import PAGES, create_app
from dashboard.jobs import Jobs, offer_jobs
from dashboard.shown_paths import ShownPaths, show_no_paths
from tests.dashboard.dummies_project import write_register
from tests.dashboard.pages.wrong_calls import plain_call
from tests.dashboard.project import write_project
from tests.dashboard.served import asked, call, page_token, sign_in, with_accounts
from tests.dashboard.tuned_project import write_tuning

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from dash import Dash
    from flask.testing import FlaskClient

SEARCHES: Final = ("", "?release=A2&case=impact&package=p&job=9")
"""What each page is asked for."""


def sound(folder: Path) -> None:
    """Rate the project."""
    campaign = load_campaign(folder)
    with open_store(folder / "ratings.sqlite") as store:
        score_into(store, campaign, run=RunInfo.now(), workers=1)


def missing_files(folder: Path) -> None:
    """Remove the tests of a load case and a result of the other, and replace the store by something else."""
    for file in (folder / "laboratory/drop").iterdir():
        file.unlink()
    (folder / "releases/A2/impact.csv").unlink()
    (folder / "ratings.sqlite").write_bytes(b"not a database, and long enough to be looked at " * 40)


def damaged_campaign(folder: Path) -> None:
    """Leave mistakes in every settings file."""
    for name in ("campaign.toml", "tuning.toml", "laboratory.toml", "design.csv"):
        (folder / name).write_text("title = \n", encoding="utf-8")


def no_campaign(folder: Path) -> None:
    """Remove the campaign."""
    (folder / "campaign.toml").unlink()


def damaged_files(folder: Path) -> None:
    """Damage a test, a result, the design of the tuning, and a received package."""
    (folder / "laboratory/drop/D01.csv").write_bytes(b"\x00\xff" * 100)
    (folder / "releases/A2/drop.csv").write_text("time [ms],head x [m/s^2]\n0,zz\n")
    (folder / "design.csv").write_text("x\n")
    (folder / "received/p").mkdir(parents=True)
    (folder / "received/p/bagit.txt").write_bytes(b"\xff")
    (folder / "received/p.zip").write_bytes(b"PK\x03\x04 damaged")


STATES: Final[tuple[Callable[[Path], None], ...]] = (
    sound, missing_files, damaged_campaign, no_campaign, damaged_files,
)  # fmt: skip


def written(folder: Path, state: Callable[[Path], None]) -> Dash:
    """Return the application of a project in a state, with accounts and jobs."""
    write_project(folder)
    write_tuning(folder)
    write_register(folder)
    state(folder)
    app = create_app(folder)
    offer_jobs(app, Jobs(folder.parent / "jobs"))
    with_accounts(app, folder.parent)
    return app


def answers(app: Dash, client: FlaskClient, searches: Sequence[str]) -> Iterator[tuple[str, str]]:
    """Yield what every page, callback and route answers, with what was asked."""
    token = page_token(client)
    for path in [page.path for page in PAGES] + ["/no/such", "/media/p/x.png", "/report/9/html", "/account"]:
        yield path, asked(client, "GET", path).text
    for key in server_callbacks(app):
        body = plain_call(app, key)
        places = [one for part in ("inputs", "state") for one in body[part] if isinstance(one, dict)]
        addresses = [one for one in places if one["property"] == "search" or one["id"] == "pair-shown"]
        for search in searches if addresses else ("",):
            for one in addresses:
                one["value"] = search
            yield f"{key[:60]} {search}", call(client, body, token).text


def plain(said: str) -> str:
    """Return an answer without the ways in which JSON and markup write a slash and an ampersand."""
    return said.replace(r"\u002f", "/").replace("&amp;", "&")


@pytest.mark.parametrize("state", STATES)
def test_no_answer_names_a_folder_of_the_server(tmp_path: Path, state: Callable[[Path], None]) -> None:
    """Every page, callback and route, for a manager, with the project in every kind of disorder."""
    folder = tmp_path / "kelp & co"
    app = written(folder, state)
    passed: list[str] = []
    shown = ShownPaths(folder, [folder.parent / "jobs"])

    def watched(text: str) -> str:
        if str(folder) in plain(text):
            passed.append(text)
        return shown(text)

    show_no_paths(app, watched)
    # Where nothing is wrong every page takes longer.
    searches = SEARCHES[: 1 if state is sound else 2]
    client = app.server.test_client()
    sign_in(client, "manager")
    secret = (str(folder), str(tmp_path), sys.prefix, str(Path.home()), "/tmp/", "site-packages")  # noqa: S108
    found = [
        (what, said[max(0, place - 60) : place + 80])
        for what, said in ((what, plain(said)) for what, said in answers(app, client, searches))
        for one in secret
        if (place := said.find(one)) >= 0
    ]
    assert found == []
    # The search is not blind: there was something to hide.
    assert passed or state is sound


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("/srv/data/kelp/drop.csv: no such file", "drop.csv: no such file"),
        ("run: correlate score /srv/data/kelp.", "run: correlate score kelp."),
        ("/srv/data/kelp2/drop.csv", "…/kelp2/drop.csv"),
        ("/srv/other/accounts.sqlite", "…/accounts.sqlite"),
        ('{"bdata":"/srv/data/kelp/AAAA","x":"/srv/data/kelp/a"}', '{"bdata":"/srv/data/kelp/AAAA","x":"a"}'),
        ('<a href="/media/p/x.png">/data?case=1</a>', '<a href="/media/p/x.png">/data?case=1</a>'),
        (r'"\u002fsrv\u002fdata\u002fkelp\u002fa.csv"', '"a.csv"'),
        (r'"wrong:\n\u002fsrv\u002fdata\u002fkelp: no"', r'"wrong:\nkelp: no"'),
        ("ratio a/srv/data/kelp/b", "ratio a/srv/data/kelp/b"),
    ],
)
def test_what_is_written_in_place_of_a_folder(text: str, shown: str) -> None:
    """Files from the project on, the project by its name, other folders as an ellipsis; no other change."""
    assert ShownPaths(Path("/srv/data/kelp"), [Path("/srv/other"), Path("/media")])(text) == shown
