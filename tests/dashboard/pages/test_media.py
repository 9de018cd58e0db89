"""Photos and films on the pages, and the addresses that hand them out."""

from __future__ import annotations

import shutil
from datetime import date
from typing import TYPE_CHECKING

import pytest
from dash import html
from flask import g

from correlate import (
    PackagePlan,
    make_package,
    plan_load_case,
    receive_package,
    received_packages,
    use_package,
)
from correlate.reference.package.description import load_words
from correlate.reference.package.keys import load_signer
from dashboard.access import THIS_MACHINE
from dashboard.access.account import ACCOUNT
from dashboard.app import create_app
from dashboard.laboratory import Laboratory
from dashboard.pages.data import callbacks as data
from dashboard.pages.data.inspecting import inspect
from dashboard.pages.page import Event
from dashboard.pages.repeats.callbacks import PICKED, show
from dashboard.state import Project
from tests.dashboard.project import write_project
from tests.dashboard.reading import properties, text
from tests.dashboard.served import asked, sign_in, with_accounts
from tests.reference.folders import write_pulse
from tests.reference.package.key_files import PASSPHRASE, key_pair, sign_again
from tests.reference.package.media_files import JPEG, MP4, PNG, WORDS, write_words

if TYPE_CHECKING:
    from pathlib import Path

PACKAGE = "?package=two films"


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Return the small project with a signed package whose tests, photo and films are used in a load case."""
    outbox = tmp_path_factory.mktemp("outbox")
    project = write_project(outbox / "small")
    words = load_words(write_words(outbox / "words", WORDS.replace("the drop tower", "<b>the tower</b>")))
    tests = [write_pulse(outbox, f"T{number}", number) for number in (1, 2)]
    key_pair(outbox / "lab.key")
    signer = load_signer(outbox / "lab.key", PASSPHRASE)
    plan = PackagePlan(tests=tests, checked_by="lab", words=words, signer=signer)
    make_package(plan, outbox / "two films.zip")
    (project / "trusted_keys").mkdir()
    shutil.copy(outbox / "lab.key.pub", project / "trusted_keys")
    receive_package(project, outbox / "two films.zip")
    use_package(plan_load_case(project / "campaign.toml", "two films", name="drop-2", interval_ms=(0, 40)))
    return project


def test_the_repeats_page_shows_them_with_their_time_zero(folder: Path) -> None:
    """The films with their tests, the photo with both; words of the sender are text, never markup."""
    event = Event(trigger=None, search="?case=drop-2", picked=dict.fromkeys(PICKED), theme="light")
    shown = show(Laboratory(Project(folder)), event)["media"]
    films = [one["src"] for one in properties(shown, html.Video)]
    assert films == [
        "/media/two%20films/data/media/T1/left.mp4",
        "/media/two%20films/data/media/T2/front.webm#t=4.8",
    ]
    assert all(one["controls"] and "autoPlay" not in one for one in properties(shown, html.Video))
    (photo,) = properties(shown, html.Img)
    assert photo["src"] == "/media/two%20films/data/media/rig.png"
    assert photo["alt"] == "<b>the tower</b>; view: not given"
    said = text(shown)
    assert "Photos and films Head and plate at the first contact." in said
    assert "Test T1. Time zero of the test is frame 120, the first being 0; recorded at 1000 frames" in said
    assert "Test T2. Time zero of the test is at 4.8 s of the film" in said
    assert "View: not given. Tests T1, T2." in said


def test_a_load_case_without_packages_shows_none(folder: Path) -> None:
    """There is no empty card."""
    event = Event(trigger=None, search="?case=drop", picked=dict.fromkeys(PICKED), theme="light")
    assert show(Laboratory(Project(folder)), event)["media"] == []


def test_the_data_page_shows_them_and_who_signed(folder: Path) -> None:
    """In the inspection of the package; the list of packages says the same of the signature."""
    app = create_app(folder)
    with app.server.test_request_context("/"):
        setattr(g, ACCOUNT, THIS_MACHINE)
        parts = inspect(Laboratory(Project(folder)), PACKAGE, "light")["parts"]
        listed = text(data.show(Project(folder), "")["packages"])
    assert len(properties(parts, html.Video)) == 2
    assert "All tests of the package." in text(parts)
    for said in (text(parts), listed):
        assert "Signed by test engineer of Kelpwick Impact Laboratory on " in said
        assert "the key is trusted, because it is in trusted_keys/lab.key.pub" in said
        assert "not accepted" not in said


def test_a_key_that_is_revoked_later_is_said_of_a_received_package(folder: Path, tmp_path: Path) -> None:
    """Today's trust counts, and a list that cannot be read is named without a path of the machine."""
    project = shutil.copytree(folder, tmp_path / "small")
    (package,) = received_packages(project)
    revoked = project / "trusted_keys/revoked.toml"
    revoked.write_text(
        f'revoked = [{{ fingerprint = "{package.signed_by}", date = 2026-11-30, reason = "lost" }}]\n',
        encoding="utf-8",
    )
    listed = text(data.show(Project(project), "")["packages"])
    assert f"The signature is not accepted today: its key {package.signed_by} was revoked" in listed
    revoked.write_text("x", encoding="utf-8")
    listed = text(data.show(Project(project), "")["packages"])
    assert "revoked.toml: is not valid TOML" in listed
    assert str(tmp_path) not in listed


def test_a_package_in_quarantine_says_why_its_signature_is_not_accepted(folder: Path, tmp_path: Path) -> None:
    """An expired key: no error was found, and the reason stands with the package."""
    project = shutil.copytree(folder, tmp_path / "small")
    shutil.rmtree(project / "received")
    bag = shutil.copytree(folder / "received/two films", tmp_path / "late")
    key_pair(tmp_path / "old.key", first=date(2020, 1, 1), last=date(2020, 12, 31))
    sign_again(bag, tmp_path / "old.key", date(2020, 6, 1))
    shutil.copy(tmp_path / "old.key.pub", project / "trusted_keys")
    package = receive_package(project, bag)
    assert (package.quarantine, package.errors) == (True, 0)
    assert package.distrust.endswith("expired after 2020-12-31")
    assert f"In quarantine because {package.distrust}." in text(data.show(Project(project), "")["packages"])


def test_listed_files_are_handed_out_with_their_type(folder: Path) -> None:
    """Photo and film, whole and in part; the browser may not guess another type, and nothing is cached."""
    client = create_app(folder).server.test_client()
    photo = client.get("/media/two films/data/media/rig.png", buffered=True)
    assert (photo.status_code, photo.data, photo.mimetype) == (200, PNG, "image/png")
    assert photo.headers["X-Content-Type-Options"] == "nosniff"
    assert photo.headers["Cache-Control"] == "private, no-cache"
    assert "default-src 'self'" in photo.headers["Content-Security-Policy"]
    film = client.get(
        "/media/two films/data/media/T1/left.mp4", headers={"Range": "bytes=4-11"}, buffered=True
    )
    assert (film.status_code, film.data, film.mimetype) == (206, MP4[4:12], "video/mp4")


@pytest.mark.parametrize(
    "address",
    [
        "two films/data/description.json",
        "two films/bagit.txt",
        "two films/data/media/absent.png",
        "two films/data/media/../../bagit.txt",
        "two films/data/media/%2e%2e/%2e%2e/bagit.txt",
        "../campaign.toml",
        "%2e%2e/campaign.toml",
        "absent/data/media/rig.png",
        "two films//etc/hostname",
        "two films/data/media/rig.jpg",
    ],
)
def test_nothing_else_is_handed_out(folder: Path, address: str) -> None:
    """Not even a file that is there, unless its package lists it as a photo or film."""
    (folder / "received/two films/data/media/rig.jpg").write_bytes(JPEG)
    client = create_app(folder).server.test_client()
    answer = client.get(f"/media/{address}", follow_redirects=True)
    assert answer.mimetype not in {"application/json", "image/jpeg", "text/plain"}
    assert b"BagIt" not in answer.data
    assert answer.status_code in {200, 404}
    if answer.status_code == 200:
        # Addresses that lead out of /media are those of the empty application.
        assert b"<html" in answer.data


def test_a_server_asks_to_sign_in_first(folder: Path, tmp_path: Path) -> None:
    """Test data are confidential: nobody without an account sees a photo, a viewer does."""
    app = create_app(folder)
    engine = with_accounts(app, tmp_path)
    client = app.server.test_client()
    address = "/media/two films/data/media/rig.png"
    assert asked(client, "GET", address).status_code == 303
    sign_in(client, "viewer")
    assert asked(client, "GET", address).data == PNG
    engine.dispose()
