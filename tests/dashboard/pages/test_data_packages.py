"""Packages on the data page: inspected, waived, released and used, each by role and each on the record."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import dash_mantine_components as dmc
import pytest
from dash import dcc, html, no_update
from flask import g

from correlate import (
    PackagePlan,
    RunInfo,
    load_campaign,
    load_waivers,
    make_package,
    open_store,
    read,
    receive_package,
    received_package,
    received_packages,
    score_into,
)
from correlate.formats.iso13499 import write_test
from dashboard import ids
from dashboard.access import THIS_MACHINE, Account, Role
from dashboard.access.account import ACCOUNT, TRAIL
from dashboard.app import create_app
from dashboard.components.packages import finding_key
from dashboard.laboratory import Laboratory
from dashboard.pages.data import callbacks as data
from dashboard.pages.data.inspecting import inspect, outputs, release, waive_picked
from dashboard.pages.data.using import NEW, choices, show_change, use_planned
from dashboard.pages.page import Event
from dashboard.pages.repeats.callbacks import PICKED, show
from dashboard.state import Project
from tests.dashboard.project import write_project
from tests.dashboard.reading import parts, properties, text
from tests.reference.folders import write_pulse
from tests.reference.package.test_received import clipped

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator
    from pathlib import Path

CODE = "D0HEAD0000KMACXP"
PACKAGE = "?release=A2&package=drops"


class Trail:
    """Keeps what was recorded."""

    def __init__(self) -> None:
        self.lines: list[str] = []

    def add(self, *, who: str, what: str, about: str = "", address: str = "") -> None:  # noqa: ARG002
        """Add an entry."""
        self.lines.append(f"{who} {what}: {about}")


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Return the small project with a package of one clipped and one sound test in quarantine."""
    project = write_project(tmp_path / "small")
    tests = [clipped(tmp_path, "T9"), write_pulse(tmp_path, "T8", 8)]
    make_package(PackagePlan(tests=tests, checked_by="lab", despite="it is needed"), tmp_path / "drops.zip")
    receive_package(project, tmp_path / "drops.zip")
    return project


@pytest.fixture
def laboratory(folder: Path) -> Laboratory:
    """Return what the server knows of its tests."""
    return Laboratory(Project(folder))


@pytest.fixture
def trail() -> Trail:
    """Return an audit trail."""
    return Trail()


@pytest.fixture
def signed_in(folder: Path, trail: Trail) -> Iterator[Callable[[Role], None]]:
    """Answer a request of the laboratory; the function makes it another role's."""
    app = create_app(folder)
    app.server.extensions[TRAIL] = trail

    def be(role: Role) -> None:
        setattr(g, ACCOUNT, Account(name=f"the {role.value}", role=role))

    with app.server.test_request_context("/"):
        setattr(g, ACCOUNT, THIS_MACHINE)
        be(Role.LAB)
        yield be


def error_key(laboratory: Laboratory) -> str:
    """Return how the box of the clipped peak names it."""
    package = received_packages(laboratory.project.folder)[0]
    return finding_key(laboratory.examined(package).outcome.findings[0])


def told(**changes: Any) -> dict[str, Any]:
    """Return what is in the fields."""
    nothing = {"case": "drop", "source": "drop", "name": "", "title": "", "start": None, "end": None}
    return nothing | changes


@pytest.mark.usefixtures("signed_in")
def test_an_inspected_package_shows_tests_findings_and_curves(laboratory: Laboratory) -> None:
    """State, signature, a row per test, the clipped peak on its curve, and what a laboratory may do."""
    shown = inspect(laboratory, PACKAGE, "light")
    assert shown.keys() == outputs().keys()
    assert text(shown["title"]) == "Package drops ! in quarantine Close"
    assert [one["href"] for one in properties(shown["title"], dcc.Link)] == ["/data?release=A2"]
    said = text(shown["parts"])
    assert "2 tests, 2 channels: 1 error" in said
    assert "Not signed: nothing shows who made the package" in said
    assert "T8 Load case drop Channels 1 Errors 0" in said
    assert "T9 Load case drop Channels 1 Errors 1" in said
    boxes = [one["label"] for one in properties(shown["findings"], dmc.Checkbox)]
    assert any(label.startswith("Error: saturation, T9") for label in boxes)
    figures = [one["figure"] for one in properties(shown["findings"], dcc.Graph)]
    assert figures[0].layout.shapes
    assert (shown["waive_hidden"], shown["release_hidden"], shown["use_hidden"]) == (False, False, True)


def test_a_viewer_looks_and_is_offered_nothing(
    laboratory: Laboratory, signed_in: Callable[[Role], None]
) -> None:
    """The findings are the same, without boxes; the role that it takes is named."""
    signed_in(Role.VIEWER)
    shown = inspect(laboratory, PACKAGE, "light")
    assert properties(shown["findings"], dmc.Checkbox) == []
    assert "saturation" in text(shown["findings"])
    assert "requires the role lab" in text(shown["refused"])
    assert all(shown[name] for name in ("waive_hidden", "release_hidden", "use_hidden"))


@pytest.mark.usefixtures("signed_in")
def test_no_package_and_an_unknown_one(laboratory: Laboratory) -> None:
    """Without a package nothing is shown; a link to one that is gone says which there are."""
    assert inspect(laboratory, "?release=A2", "light")["hidden"]
    shown = inspect(laboratory, "?package=gone", "light")
    assert "there is no package 'gone'" in text(shown["parts"])
    assert (shown["hidden"], shown["release_hidden"]) == (False, True)


@pytest.mark.usefixtures("signed_in")
def test_a_released_package_is_used_and_its_record_goes_with_it(
    laboratory: Laboratory, folder: Path, trail: Trail
) -> None:
    """Released with a reason, used as a repeat: list, health and Repeats page name who released it."""
    said, changed = release(laboratory, PACKAGE, "the peak is not used")
    assert "can be used in the campaign" in text(said)
    assert changed is not no_update
    assert "the lab released a package from quarantine: drops" in trail.lines[0]
    assert "the peak is not used" in trail.lines[0]
    shown = show_change(laboratory.project, PACKAGE, told())
    assert "Load case 'drop' gets T8, T9: 2 tests now, 4 after the change." in text(shown["change"])
    assert '"received/drops/data/tests/drop/*"' in text(shown["change"])
    assert "T8 lacks Head acceleration Z." in text(shown["change"])
    assert load_campaign(folder).load_case("drop").tests == ["laboratory/drop/*.csv"]
    used = use_planned(laboratory.project, PACKAGE, shown["planned"])
    assert "T8, T9 of package drops are used in 'drop'" in text(used["said"])
    assert [one["href"] for one in properties(used["said"], html.A)] == ["#data-rate"]
    assert "the lab used a package: drops in load case drop: T8, T9" in trail.lines
    words = "despite 1 open error by the lab"
    listed = text(data.show(laboratory.project, "")["packages"])
    assert words in listed
    assert "Used in drop (T8, T9)." in listed
    assert words in text(data.show_health(laboratory, "", None)[0])
    assert words in text(inspect(laboratory, PACKAGE, "light")["parts"])
    event = Event(trigger=None, search="", picked=dict.fromkeys(PICKED), theme="light")
    assert words in text(show(laboratory, event)["numbers"])


@pytest.mark.usefixtures("signed_in")
def test_ratings_that_become_stale_are_named(laboratory: Laboratory, folder: Path) -> None:
    """Before and after the change, with the pairs of each release."""
    with open_store(folder / "ratings.sqlite") as store:
        score_into(store, load_campaign(folder), ["A2"], run=RunInfo.now(), workers=1)
    release(laboratory, PACKAGE, "fine")
    shown = show_change(laboratory.project, PACKAGE, told())
    assert "become stale until they are rated again: A2 (4 pairs)" in text(shown["change"])
    used = use_planned(laboratory.project, PACKAGE, shown["planned"])
    assert "Stale until they are rated again: ratings of A2." in text(used["said"])


@pytest.mark.usefixtures("signed_in")
def test_a_package_becomes_a_new_load_case(laboratory: Laboratory, folder: Path) -> None:
    """Name, title and interval come from the fields; the menus offer load cases and the package's tests."""
    menus = choices(laboratory.project, PACKAGE)
    assert [one["value"] for one in menus["cases"]] == [NEW, "drop", "impact"]
    assert (menus["source"], menus["source_hidden"]) == ("drop", True)
    release(laboratory, PACKAGE, "fine")
    fields = told(case=NEW, name=" drop-2 ", title="Again", start=0, end=40)
    shown = show_change(laboratory.project, PACKAGE, fields)
    assert "New load case 'drop-2' with 2 tests: T8, T9." in text(shown["change"])
    use_planned(laboratory.project, PACKAGE, shown["planned"])
    case = load_campaign(folder).load_case("drop-2")
    assert (case.title, case.interval_ms, [one.test for one in case.channel]) == ("Again", (0, 40), [CODE])


@pytest.mark.usefixtures("signed_in")
@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({}, "a package in quarantine cannot be used"),
        ({"case": None}, "no load case is selected"),
        ({"case": NEW, "name": "x", "start": 0}, "the interval is not complete"),
        ({"case": NEW, "name": "", "start": 0, "end": 9}, "'' is not a valid name of a load case"),
    ],
)
def test_what_cannot_be_used_is_said(laboratory: Laboratory, change: dict[str, Any], words: str) -> None:
    """One sentence, no change to write, no path of the machine."""
    shown = show_change(laboratory.project, PACKAGE, told(**change))
    assert words in text(shown["change"])
    assert str(laboratory.project.folder) not in text(shown["change"])
    assert (shown["hidden"], shown["planned"]) == (True, None)


@pytest.mark.usefixtures("signed_in")
def test_another_change_than_the_one_shown_is_not_written(laboratory: Laboratory, folder: Path) -> None:
    """Somebody edits the file in between: nothing is written before the person has looked again."""
    release(laboratory, PACKAGE, "fine")
    shown = show_change(laboratory.project, PACKAGE, told())
    path = folder / "campaign.toml"
    path.write_text("# theirs\n" + path.read_text(encoding="utf-8"), encoding="utf-8")
    used = use_planned(laboratory.project, PACKAGE, shown["planned"])
    assert "has changed in the meantime; show the change again" in text(used["said"])
    assert used["changed"] is no_update
    assert "received/" not in path.read_text(encoding="utf-8")


@pytest.mark.usefixtures("signed_in")
def test_ticked_findings_are_waived_with_a_reason(laboratory: Laboratory, folder: Path, trail: Trail) -> None:
    """The waiver names the account; without a tick or a reason nothing is written."""
    key = error_key(laboratory)
    for keys, why, words in (([], "known", "no finding is selected"), ([key], " ", "no reason is given")):
        said, changed = waive_picked(laboratory, PACKAGE, keys, why)
        assert words in text(said)
        assert changed is no_update
    assert trail.lines == []
    said, _ = waive_picked(laboratory, PACKAGE, [key], "known")
    assert "1 finding is waived in waivers.toml." in text(said)
    (line,) = load_waivers(folder).waivers
    assert (line.test, line.finding, line.who) == ("T9", "saturation", "the lab")
    assert trail.lines == ["the lab waived findings: drops: T9 / D0HEAD0000KMACXP saturation"]
    shown = inspect(laboratory, PACKAGE, "light")
    assert "waived by the lab" in text(shown["parts"])
    assert shown["release_hidden"] is False
    assert "quarantine" in text(shown["title"])


@pytest.mark.usefixtures("signed_in")
def test_a_release_without_a_reason_is_refused(laboratory: Laboratory, trail: Trail) -> None:
    """The package stays in quarantine, and nothing is on the record."""
    said, changed = release(laboratory, PACKAGE, None)
    assert "no reason is given" in text(said)
    assert changed is no_update
    assert trail.lines == []
    assert received_package(laboratory.project.folder, "drops").quarantine


@pytest.mark.usefixtures("signed_in")
def test_data_that_cannot_be_read_are_offered_for_nothing(folder: Path, tmp_path: Path) -> None:
    """A channel without numbers: neither waiver nor release is offered, and the reason is stated."""
    pulse = read(write_pulse(tmp_path, "T1", 1)).signals[0]
    sound = read(write_pulse(tmp_path, "T2", 2)).signals[0]
    signals = [pulse, replace(sound, channel="D0HEAD0000KMACYP")]
    test = write_test(tmp_path / "T7", name="T7", description={"Type of the test": "drop"}, signals=signals)
    channel = test / "Channel/T7.002"
    lines = channel.read_text(encoding="utf-8").splitlines()
    channel.write_text("\n".join([*lines[:-2], "none", lines[-1]]) + "\n", encoding="utf-8")
    make_package(PackagePlan(tests=[test], checked_by="lab", despite="needed"), tmp_path / "odd.zip")
    receive_package(folder, tmp_path / "odd.zip")
    shown = inspect(Laboratory(Project(folder)), "?package=odd", "light")
    assert "This package cannot be released." in text(shown["refused"])
    assert (shown["waive_hidden"], shown["release_hidden"]) == (True, True)
    assert properties(shown["findings"], dmc.Checkbox) == []


@pytest.mark.usefixtures("signed_in")
def test_a_read_only_project_is_looked_at(laboratory: Laboratory, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing is offered, and what is asked for all the same is refused."""
    monkeypatch.setattr("dashboard.state.may_write", lambda _: False)
    shown = inspect(laboratory, PACKAGE, "light")
    assert all(shown[name] for name in ("waive_hidden", "release_hidden", "use_hidden"))
    for said in (
        release(laboratory, PACKAGE, "fine")[0],
        waive_picked(laboratory, PACKAGE, [error_key(laboratory)], "fine")[0],
        show_change(laboratory.project, PACKAGE, told())["change"],
    ):
        assert "the project is read-only" in text(said)


def test_every_place_of_the_inspection_is_on_the_page(folder: Path) -> None:
    """The callbacks find their fields, also where nothing is inspected."""
    with create_app(folder).server.test_request_context("/"):
        setattr(g, ACCOUNT, THIS_MACHINE)
        page = data.layout("")
    found = {str(part) for part in _ids(page)}
    assert {str(one.component_id) for one in outputs().values()} <= found
    assert {ids.DATA_USE_SHOW, ids.DATA_USE_SEND, ids.DATA_WAIVE_SEND, ids.DATA_RELEASE_SEND} <= found


def _ids(page: Any) -> Iterator[Any]:
    return (part.id for part in parts(page) if getattr(part, "id", None))
