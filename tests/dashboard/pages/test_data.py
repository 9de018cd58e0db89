"""The data page: what is held, what is sent in, and channels paired by hand."""

from __future__ import annotations

import base64
import json
import os
import zipfile
from pathlib import Path
from typing import TYPE_CHECKING, Any

import pytest
from dash import dcc, html, no_update
from werkzeug.exceptions import Forbidden

from correlate import (
    PackagePlan,
    ReceivedPackage,
    load_campaign,
    make_package,
    proposals_of,
    received_packages,
)
from dashboard import ids, state
from dashboard.access import THIS_MACHINE, Account, Role
from dashboard.access.account import ACCOUNT, needs_of
from dashboard.app import create_app
from dashboard.components.data import AS_PROPOSED, KEPT, job_parts
from dashboard.jobs import JobState, jobs_of_server, offer_jobs
from dashboard.jobs.jobs import Jobs
from dashboard.jobs.table import JobTable
from dashboard.jobs.worker import WORKER_ENDED, JobSettings, Worker
from dashboard.laboratory import Laboratory
from dashboard.pages.data import callbacks as data
from dashboard.pages.data.pairing import open_channels, pair_up, picked_release
from dashboard.pages.data.sending import send_package, send_results, start_rating
from dashboard.pages.job_panel import cancel, watch
from dashboard.selection import read_query
from dashboard.state import Project
from tests.dashboard.project import write_project
from tests.dashboard.reading import properties, text

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from dash import Dash
    from dash.development.base_component import Component

    from correlate import Campaign, Proposal, Release

EXAMPLES = Path(__file__).parents[3] / "demo_pairs/examples"
SOUND = [EXAMPLES / "neck/test/KELPM_NF01", EXAMPLES / "thorax/test/KELPM_TI01"]
"""Tests of the demo, in which the data check finds no error."""

UNPAIRED = """[[load_case.channel]]
test = "D0HEAD0000KMACZP"
model = "head z"
region = "head"
cfc = 600

"""


@pytest.fixture
def folder(tmp_path: Path) -> Path:
    """Write the small project without one of its channels."""
    project = write_project(tmp_path / "small")
    path = project / "campaign.toml"
    path.write_text(path.read_text(encoding="utf-8").replace(UNPAIRED, ""), encoding="utf-8")
    return project


@pytest.fixture
def app(folder: Path, tmp_path: Path) -> Dash:
    """Return the application of the project, with jobs."""
    app = create_app(folder)
    offer_jobs(app, Jobs(tmp_path / "jobs"))
    return app


@pytest.fixture
def signed_in(app: Dash) -> Iterator[Callable[[Role], None]]:
    """Answer a request of the person at this machine; the function makes it another's."""
    with app.server.test_request_context("/"):
        from flask import g  # noqa: PLC0415 - there is a request only now

        setattr(g, ACCOUNT, THIS_MACHINE)
        yield lambda role: setattr(g, ACCOUNT, Account(name=f"the {role.value}", role=role))


@pytest.fixture
def work(folder: Path, tmp_path: Path) -> Callable[[str], JobState]:
    """Return a function that does the job of an address, if it still waits, as the worker would."""

    def run(search: str) -> JobState:
        number = read_query(search, ["job"])["job"]
        Worker(table=JobTable(tmp_path / "jobs"), place=JobSettings(project=folder)).do_next()
        return jobs_of_server().state(number)

    return run


def sent(path: Path) -> str:
    """Return a file as the browser sends it."""
    return "data:application/zip;base64," + base64.b64encode(path.read_bytes()).decode()


def results_zip(folder: Path, outbox: Path) -> Path:
    """Pack the results of release A2."""
    with zipfile.ZipFile(outbox / "results.zip", "w") as archive:
        for name in ("drop.csv", "impact.csv"):
            archive.write(folder / "releases/A2" / name, f"out/{name}")
    return outbox / "results.zip"


def package_zip(tests: Sequence[Path], outbox: Path) -> Path:
    """Pack tests as a package of reference data, despite whatever the check says."""
    make_package(
        PackagePlan(tests=tests, checked_by="a laboratory", despite="for this test"), outbox / "sent.zip"
    )
    return outbox / "sent.zip"


def everything(folder: Path) -> dict[str, bytes]:
    """Return every file of a folder."""
    return {str(path): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def healths(folder: Path) -> list[Component]:
    """Request the health of the tests until every load case is examined, as the page does."""
    laboratory, ticks = Laboratory(Project(folder)), 0
    for _ in laboratory.project.campaign().load_cases:
        shown, asked = data.show_health(laboratory, "", ticks)
        if asked == 0:
            return shown
        assert asked == ticks + 1
        ticks = asked
    pytest.fail("some load cases were never examined")


def test_load_cases_that_wait_are_listed_last(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Load cases that are not examined yet have no numbers, and the page shows the progress."""
    monkeypatch.setattr(Laboratory.health, "__defaults__", (0.0,))
    shown, asked = data.show_health(Laboratory(Project(folder)), "", None)
    assert asked == 1
    assert "Checking the tests: 1 of 2 load cases checked. 1 needs attention so far." in text(shown)
    _, examined, waiting = properties(shown, html.Tr)
    assert "errors" in text(examined["children"])
    assert "waiting" in text(waiting["children"])
    assert len(waiting["children"]) == len(examined["children"])


def test_what_is_held_is_shown(folder: Path) -> None:
    """Releases, tests, load cases and channels are counted, with a sentence where nothing was sent in."""
    shown = data.show(Project(folder), "?release=A2")
    assert shown["summary"] == "2 releases of the model, 4 tests in 2 load cases, 3 channels compared"
    assert "A1 First guess Results 2 of 2 Pairs rated 0 of 6" in text(shown["releases"])
    health = text(healths(folder))
    assert "Impact with a probe held out of tuning impact ! errors Tests 2 of 2 Channels 2" in health
    assert "No package has been uploaded yet." in text(shown["packages"])
    assert (shown["release"], shown["hidden"], shown["problem"]) == ("A2", False, None)


def test_what_is_absent_is_said(folder: Path) -> None:
    """A result file and tests that are gone are named where they are missed."""
    (folder / "releases/A1/drop.csv").unlink()
    for path in folder.glob("laboratory/impact/*"):
        path.unlink()
    shown = data.show(Project(folder), "")
    assert "missing: drop Results 1 of 2" in text(shown["releases"])
    health = healths(folder)
    assert "no test matches 'laboratory/impact/*.csv'" in text(health)
    # What cannot be checked comes before what has errors.
    first, second = properties(health, html.Tr)[1:]
    assert "cannot be checked" in text(first["children"])
    assert "errors" in text(second["children"])


def test_a_folder_without_a_campaign_has_a_way_out(tmp_path: Path, folder: Path) -> None:
    """No file, or a file with mistakes: the reason and what to do, and nothing else."""
    shown = data.show(Project(tmp_path / "nowhere"), "")
    assert "There is no campaign in this folder yet" in text(shown["problem"])
    assert shown["hidden"]
    (folder / "campaign.toml").write_text("[campaign", encoding="utf-8")
    assert "The campaign file contains errors" in text(data.show(Project(folder), "")["problem"])


def test_a_store_that_cannot_be_read_leaves_the_rest(folder: Path) -> None:
    """The reason is said; releases and tests are shown all the same, and no store is made by looking."""
    data.show(Project(folder), "")
    assert not (folder / "ratings.sqlite").exists()
    (folder / "ratings.sqlite").write_text("no store at all, but long enough to look at", encoding="utf-8")
    shown = data.show(Project(folder), "")
    assert "ratings.sqlite" in text(shown["problem"])
    assert "Results 2 of 2" in text(shown["releases"])


@pytest.mark.usefixtures("signed_in")
def test_results_become_a_release(folder: Path, tmp_path: Path, work: Callable[[str], JobState]) -> None:
    """The zip file is read by the job, the campaign has the release, and the upload is gone."""
    told = {"content": sent(results_zip(folder, tmp_path)), "file": "results.zip", "name": " B1 ", "note": ""}
    search, said, *field = send_results(Project(folder), told, "?release=A2")
    assert (read_query(search, ["release"])["release"], said, field) == ("A2", "", [None, None])
    state = work(search)
    assert state.stage == "done"
    assert "Release B1 is in the campaign: 2 of 2 load cases have a result." in text(job_parts(state))
    assert load_campaign(folder).release("B1").folder == "releases/B1"
    assert not any((tmp_path / "jobs/uploads").iterdir())
    shown = watch(search)
    assert (shown["quiet"], shown["cancel_hidden"]) == (True, True)
    assert shown["changed"] != no_update


@pytest.mark.usefixtures("signed_in")
def test_a_refused_upload_has_the_name_that_it_was_sent_under(
    folder: Path, work: Callable[[str], JobState]
) -> None:
    """The folder in which it lay meanwhile is of no use to anybody."""
    told = {"content": "data:x;base64,aGVsbG8=", "file": "bad.zip", "name": "B1", "note": None}
    state = work(send_results(Project(folder), told, "")[0])
    assert state.failure.startswith("bad.zip: this is neither a folder nor a valid zip file")


@pytest.mark.usefixtures("signed_in")
def test_a_job_that_the_worker_left_says_what_to_do(folder: Path, work: Callable[[str], JobState]) -> None:
    """Ratings until then are kept, so that starting it again goes on."""
    state = work(start_rating("")[0])
    lost = state.model_copy(update={"stage": "failed", "failure": WORKER_ENDED})
    assert "Ratings made until then are saved. Start it again." in text(job_parts(lost))
    assert "Start it again" not in text(
        job_parts(lost.model_copy(update={"stage": "cancelled", "failure": ""}))
    )
    assert folder


@pytest.mark.usefixtures("signed_in")
def test_results_that_cannot_be_read_leave_nothing(
    folder: Path, tmp_path: Path, work: Callable[[str], JobState]
) -> None:
    """The job fails with the file and the line; the project is as it was."""
    (folder / "releases/A2/drop.csv").write_text("time [ms],head x [m/s^2]\n0,1\n1,oops\n", encoding="utf-8")
    before = everything(folder)
    told = {"content": sent(results_zip(folder, tmp_path)), "file": "r.zip", "name": "B1", "note": None}
    state = work(send_results(Project(folder), told, "")[0])
    assert state.stage == "failed"
    assert "drop.csv" in state.failure
    assert "oops" in state.failure
    assert str(folder) not in state.failure
    assert "Nothing was stored." in text(job_parts(state))
    assert everything(folder) == before


@pytest.mark.usefixtures("signed_in")
@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"name": "  "}, "Enter a name for the release."),
        ({"content": None}, "Choose the zip file with the results."),
        ({"file": "../up.zip"}, "a file cannot be stored under the name"),
        ({"content": "data:x;base64,%%%"}, "this file arrived damaged"),
    ],
)
def test_what_cannot_be_sent_is_said(
    folder: Path, tmp_path: Path, change: dict[str, Any], words: str
) -> None:
    """No name, no file, a name that leads elsewhere, damage: a sentence, and nothing is started or kept."""
    told = {"content": "data:x;base64,AAAA", "file": "r.zip", "name": "B1", "note": ""} | change
    search, said, *field = send_results(Project(folder), told, "")
    assert search is no_update
    assert field == [no_update, no_update]
    assert words in text(said)
    assert not list(tmp_path.glob("jobs/uploads/*"))


@pytest.mark.usefixtures("signed_in")
@pytest.mark.parametrize("place", ["received", "quarantine"])
def test_a_package_is_received_or_quarantined(
    folder: Path, tmp_path: Path, work: Callable[[str], JobState], place: str
) -> None:
    """Tests of the demo are received; two that are copies of each other but for their size are kept apart."""
    tests = sorted(folder.glob("laboratory/drop/*.csv")) if place == "quarantine" else SOUND
    package = package_zip(tests, tmp_path)
    state = work(send_package(Project(folder), sent(package), "sent.zip", "")[0])
    assert state.stage == "done"
    assert (state.result["errors"] > 0) == (place == "quarantine")
    assert (folder / place / "sent/bagit.txt").is_file()
    assert f"{place}/sent" in text(job_parts(state))
    (note,) = received_packages(folder)
    assert (note.name, note.quarantine, note.errors) == (
        "sent",
        place == "quarantine",
        state.result["errors"],
    )
    assert "sent" in text(data.show(Project(folder), "")["packages"])
    panel = job_parts(state)
    marks = [one for one in properties(panel, html.P) if "is-attention" in one.get("className", "")]
    assert bool(marks) == (place == "quarantine")
    assert ("In quarantine: " in text(panel)) == (place == "quarantine")
    assert [one["href"] for one in properties(panel, dcc.Link)] == ["/data?package=sent#data-inspection"]
    assert not any((tmp_path / "jobs/uploads").iterdir())


@pytest.mark.usefixtures("signed_in")
def test_a_package_with_a_changed_byte_is_not_kept(
    folder: Path, tmp_path: Path, work: Callable[[str], JobState]
) -> None:
    """The job fails and says which file; nothing is received, nothing in quarantine."""
    original, changed = package_zip(SOUND, tmp_path), tmp_path / "changed.zip"
    with zipfile.ZipFile(original) as source, zipfile.ZipFile(changed, "w") as target:
        for name in source.namelist():
            content = source.read(name)
            target.writestr(name, content[:-1] + b"0" if name.endswith("001") else content)
    state = work(send_package(Project(folder), sent(changed), "changed.zip", "")[0])
    assert state.stage == "failed"
    assert ".001" in state.failure
    assert received_packages(folder) == []
    assert not list(folder.glob("received/*"))
    assert not list(folder.glob("quarantine/*"))
    assert not any((tmp_path / "jobs/uploads").iterdir())


def test_quarantine_comes_first_and_names_are_text(folder: Path) -> None:
    """Findings are listed, a note that cannot be read is named, and no name becomes markup."""
    result = {"folder": "quarantine/<b>", "findings": ["x: a spike"], "errors": 1, "signed_by": "ab12"}
    for place, name, content in (
        ("received", "fine", json.dumps(result | {"findings": [], "errors": 0, "signed_by": ""})),
        ("quarantine", "<b>bad", json.dumps(result)),
        ("quarantine", "torn", "{"),
    ):
        (folder / place).mkdir(exist_ok=True)
        (folder / place / f"{name}.json").write_text(content, encoding="utf-8")
    shown = data.show(Project(folder), "")["packages"]
    names = [one["children"] for one in properties(shown, dcc.Link)]
    assert names == ["<b>bad", "torn", "fine"]
    assert "1 of 1 findings of the data check are errors x: a spike" in text(shown)
    assert ReceivedPackage(name="torn", quarantine=True).folder == ""
    assert "quarantine/torn.json cannot be read" in text(shown)


@pytest.mark.usefixtures("signed_in")
def test_a_job_can_be_cancelled_and_rating_started(folder: Path, work: Callable[[str], JobState]) -> None:
    """A waiting job shows its turn and a way to end it; cancelled, it is not done."""
    search, _ = start_rating("")
    shown = watch(search)
    assert (shown["hidden"], shown["quiet"], shown["cancel_hidden"]) == (False, False, False)
    assert "0 %, waiting in the queue" in text(shown["said"])
    cancel(search)
    assert work(search).stage == "cancelled"
    assert "Cancelled" in text(watch(search)["said"])
    assert not (folder / "ratings.sqlite").exists()


def test_the_job_of_another_account_cannot_be_cancelled(
    signed_in: Callable[[Role], None],
) -> None:
    """Another analyst sees how it goes, is offered no button, and is refused by the server."""
    search, _ = start_rating("")
    signed_in(Role.ANALYST)
    assert watch(search)["cancel_hidden"]
    with pytest.raises(Forbidden, match="This job was started by someone else"):
        cancel(search)


@pytest.mark.usefixtures("signed_in")
def test_an_unknown_job_is_said() -> None:
    """A link to a job that is not known here is no fault."""
    shown = watch("?job=nothing")
    assert "Unknown job" in text(shown["said"])
    assert shown["quiet"]
    cancel("?job=nothing")


def test_a_server_without_a_worker_says_so(folder: Path) -> None:
    """What is sent in is not kept where nobody would look at it."""
    with create_app(folder).server.test_request_context("/"):
        from flask import g  # noqa: PLC0415 - there is a request only now

        setattr(g, ACCOUNT, THIS_MACHINE)
        said = send_package(Project(folder), "data:x;base64,AAAA", "p.zip", "")[1]
    assert "runs no background jobs" in text(said)
    assert not [*folder.rglob("p.zip")]


def test_a_release_that_is_picked_is_a_link(folder: Path) -> None:
    """Job and load case of the address stay; the release that is shown already changes nothing."""
    project = Project(folder)
    assert picked_release(project, "A2", "?job=x&case=drop") == "?release=A2&job=x&case=drop"
    assert picked_release(project, "A1", "") is no_update
    assert picked_release(project, "A2", "?release=A2") is no_update
    (folder / "campaign.toml").unlink()
    assert picked_release(project, "A2", "") is no_update


@pytest.mark.usefixtures("signed_in")
def test_an_open_channel_is_proposed_and_paired(folder: Path) -> None:
    """The channel nobody planned has its partner on top; accepted, it stands in the file and is gone."""
    cards = open_channels(Project(folder), "?release=A2")
    assert "head z" in text(cards)
    assert "both measure acceleration" in text(cards)
    wanted = {"case": "drop", "channel": "D0HEAD0000KMACZP", "model": "head z", "sign": AS_PROPOSED}
    said, changed = pair_up(Project(folder), "?release=A2", wanted)
    assert "Head acceleration Z is paired with head z" in text(said)
    campaign = load_campaign(folder)
    assert changed == campaign.sha256
    assert campaign.load_case("drop").plan("D0HEAD0000KMACZP").model == "head z"
    assert proposals_of(campaign, campaign.releases[0]) == []
    assert "Every test channel has a partner" in text(open_channels(Project(folder), ""))


@pytest.mark.usefixtures("signed_in")
def test_channels_are_compared_again_only_when_a_file_has_changed(
    folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Looking twice compares once; another release, a changed result and a changed campaign are compared."""
    asked: list[str] = []

    def counting(campaign: Campaign, release: Release) -> list[tuple[str, list[Proposal]]]:
        asked.append(release.name)
        return proposals_of(campaign, release)

    monkeypatch.setattr(state, "proposals_of", counting)
    project = Project(folder)
    for search in ("?release=A2", "?release=A2", "?release=A1", "?release=A1"):
        open_channels(project, search)
    assert asked == ["A2", "A1"]
    result = folder / "releases/A1/impact.csv"
    os.utime(result, ns=(1, 1))
    open_channels(project, "?release=A1")
    (folder / "campaign.toml").write_text((folder / "campaign.toml").read_text() + "# changed\n")
    open_channels(project, "?release=A1")
    assert asked == ["A2", "A1", "A1", "A1"]


@pytest.mark.usefixtures("signed_in")
def test_a_load_case_without_a_result_does_not_hide_the_others(folder: Path) -> None:
    """Its channels are not compared, which is said; without any result the reason stands alone."""
    (folder / "releases/A2/impact.csv").unlink()
    said = text(open_channels(Project(folder), "?release=A2"))
    assert "head z" in said
    assert "Not compared, because A2 has no result: impact." in said
    (folder / "releases/A2/drop.csv").unlink()
    assert "The channels cannot be compared." in text(open_channels(Project(folder), "?release=A2"))


@pytest.mark.usefixtures("signed_in")
def test_the_sign_that_was_picked_is_written(folder: Path) -> None:
    """Kept and turned are the person's choice, whatever was proposed."""
    wanted = {"case": "drop", "channel": "D0HEAD0000KMACZP", "model": "head z"}
    before = (folder / "campaign.toml").read_text(encoding="utf-8")
    for sign, written in ((KEPT, 1), ("turned", -1)):
        (folder / "campaign.toml").write_text(before, encoding="utf-8")
        pair_up(Project(folder), "", {**wanted, "sign": sign})
        plan = load_campaign(folder).load_case("drop").plan("D0HEAD0000KMACZP")
        assert plan.model_sign == written


@pytest.mark.usefixtures("signed_in")
@pytest.mark.parametrize("change", [{"model": "nothing"}, {"channel": "D0HEAD0000KMACXP"}, {"case": "x"}])
def test_what_was_not_proposed_is_not_written(folder: Path, change: dict[str, str]) -> None:
    """A channel that is not there, is paired already, or of no load case: said, and the file stays."""
    before = (folder / "campaign.toml").read_bytes()
    wanted = {"case": "drop", "channel": "D0HEAD0000KMACZP", "model": "head z", "sign": KEPT} | change
    said, changed = pair_up(Project(folder), "", wanted)
    assert "cannot be paired" in text(said)
    assert changed is no_update
    assert (folder / "campaign.toml").read_bytes() == before


def test_a_viewer_sees_and_a_lab_sends(signed_in: Callable[[Role], None], folder: Path) -> None:
    """Fields are hidden from those who may not use them, with the role that it takes."""
    signed_in(Role.VIEWER)
    page = data.layout("")
    assert "Importing a package requires the role lab." in text(page)
    assert "Adding results requires the role analyst." in text(page)
    cards = open_channels(Project(folder), "")
    assert "head z" in text(cards)
    assert properties(cards, html.Button) == []
    signed_in(Role.LAB)
    assert "needs the role" not in text(data.layout(""))
    assert len(properties(data.layout(""), dcc.Upload)) == 2


def test_the_server_checks_the_roles(app: Dash) -> None:
    """What takes a package needs a lab, what takes results, rates, cancels or pairs an analyst."""
    needs = needs_of(app).callbacks
    least = {
        ids.DATA_PACKAGE_SAID: (Role.LAB, True),
        ids.DATA_RESULTS_SAID: (Role.ANALYST, True),
        ids.DATA_RATE_SAID: (Role.ANALYST, False),
        ids.DATA_PAIRING_SAID: (Role.ANALYST, False),
        ids.DATA_WAIVE_SAID: (Role.LAB, False),
        ids.DATA_RELEASE_SAID: (Role.LAB, False),
        f"{ids.DATA_USE_CHANGE}.children...": (Role.ANALYST, False),
        f"{ids.DATA_INSPECTED}.": (Role.VIEWER, False),
        ids.DATA_HEALTH: (Role.VIEWER, False),
        f"{ids.job_part('data', 'cancel')}.disabled": (Role.ANALYST, False),
        ids.DATA_OPEN_CHANNELS: (Role.VIEWER, False),
    }
    for output, expected in least.items():
        (found,) = [one for key, one in needs.items() if output in key]
        assert (found.role, found.takes_files) == expected, output
