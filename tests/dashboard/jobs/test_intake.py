"""Taking in a package: kept when sound, kept apart when its tests have faults, refused when spoilt."""

from __future__ import annotations

import json
import zipfile
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from correlate import PackagePlan, make_package, verify
from dashboard.access import Account, Role
from dashboard.jobs.worker import JobSettings
from dashboard.server_settings import UploadsTable
from tests.campaign.conftest import CAMPAIGN
from tests.dashboard.jobs.at_work import desk
from tests.formats.archive.bombs import bomb
from tests.reference.folders import write_pulse

if TYPE_CHECKING:
    from pathlib import Path

    from dashboard.jobs import JobState
    from tests.dashboard.jobs.at_work import Desk

LAB = Account(name="lab", role=Role.LAB)


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """Make the folder of a project."""
    (tmp_path / "project").mkdir()
    return tmp_path / "project"


@pytest.fixture
def upload(tmp_path: Path) -> Path:
    """Return where a package lies that was uploaded."""
    (tmp_path / "jobs/uploads/one").mkdir(parents=True, mode=0o700)
    (tmp_path / "jobs").chmod(0o700)
    return tmp_path / "jobs/uploads/one/drops.zip"


@pytest.fixture
def work(project: Path, tmp_path: Path) -> Desk:
    """Return jobs over it."""
    return desk(project, tmp_path / "jobs")


def taken_in(work: Desk, file: str = "drops.zip") -> JobState:
    """Take in a package that was uploaded, and return how it went."""
    number = work.jobs.start("ingest", {"upload": "one", "file": file}, LAB)
    work.do_next()
    return work.jobs.state(number)


def test_a_sound_package_is_received(work: Desk, project: Path, tmp_path: Path, upload: Path) -> None:
    """It is still whole there, its tests can be read, and the upload is gone."""
    tests = [write_pulse(tmp_path, f"T{number}", number) for number in (1, 2)]
    make_package(PackagePlan(tests=tests, checked_by="lab"), upload)
    state = taken_in(work)
    assert state.failure == ""
    assert state.result["folder"] == "received/drops"
    assert (state.result["quarantine"], state.result["errors"]) == (False, 0)
    assert verify(project / "received/drops").files > 0
    assert json.loads((project / "received/drops.json").read_text()) == state.result
    assert list(upload.parents[1].iterdir()) == []
    assert not (project / "quarantine").exists()


def test_a_package_with_faults_is_kept_apart(work: Desk, project: Path, tmp_path: Path, upload: Path) -> None:
    """A clipped peak, whoever sent it; the findings stand beside it."""
    test = write_pulse(tmp_path, "T9", 9)
    channel = test / "Channel/T9.001"
    lines = channel.read_text().splitlines()
    clipped = [line if ":" in line else f"{min(float(line), 500.0)}" for line in lines]
    channel.write_text("\n".join(clipped) + "\n")
    plan = PackagePlan(tests=[test], checked_by="lab", despite="the peak is not used")
    make_package(plan, upload)
    state = taken_in(work)
    assert (state.stage, state.result["quarantine"], state.result["errors"]) == ("done", True, 1)
    assert state.result["folder"] == "quarantine/drops"
    assert (project / "quarantine/drops/data/tests").is_dir()
    assert state.result["findings"][0].startswith("drops/data/tests/")
    assert not (project / "received").exists()


def test_a_spoilt_package_leaves_nothing(work: Desk, project: Path, tmp_path: Path, upload: Path) -> None:
    """One byte changed: refused, and no part of it is in the project."""
    make_package(
        PackagePlan(tests=[write_pulse(tmp_path, "T1", 1)], checked_by="lab"),
        upload,
    )
    file = upload
    content = bytearray(file.read_bytes())
    content[len(content) // 2] ^= 1
    file.write_bytes(content)
    state = taken_in(work)
    assert state.stage == "failed"
    assert state.failure
    assert list(project.iterdir()) == []
    assert list(upload.parents[1].iterdir()) == []


def test_a_name_that_is_taken_is_refused(work: Desk, project: Path, tmp_path: Path, upload: Path) -> None:
    """The package there stays as it is."""
    (project / "received/drops").mkdir(parents=True)
    make_package(
        PackagePlan(tests=[write_pulse(tmp_path, "T1", 1)], checked_by="lab"),
        upload,
    )
    assert "a package 'drops' already exists under received; rename the new one" in taken_in(work).failure
    assert list((project / "received/drops").iterdir()) == []


@pytest.mark.parametrize("file", ["../../campaign.toml", "/etc/passwd", ".hidden"])
def test_only_uploads_are_taken_in(work: Desk, file: str) -> None:
    """A name that leads elsewhere is refused."""
    assert "a file cannot be stored under the name" in taken_in(work, file).failure


def sent_results(work: Desk, project: Path, upload: Path, content: bytes) -> JobState:
    """Upload a zip file with one result, and return how taking it in went."""
    (project / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    file = upload.with_name("sent.zip")
    with zipfile.ZipFile(file, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as sent:
        sent.writestr("push.csv", content)
    arguments = {"upload": "one", "file": "sent.zip", "name": "B2"}
    number = work.jobs.start("results", arguments, Account(name="ann", role=Role.ANALYST))
    work.do_next()
    return work.jobs.state(number)


def test_two_kilobytes_that_unpack_to_half_a_gigabyte_are_refused(
    work: Desk, project: Path, tmp_path: Path, upload: Path
) -> None:
    """An archive of zeros in a zip file: neither of them unpacks to much more than the other says."""
    content = bomb(tmp_path / "a.h5", "one piece").read_bytes()
    state = sent_results(work, project, upload, content)
    assert state.stage == "failed"
    assert (
        "push.csv: a channel has at least 60,500,000 samples, but at most 20,000,000 are allowed"
        in state.failure
    )
    assert not (project / "releases").exists() or not list((project / "releases").iterdir())
    assert list(upload.parents[1].iterdir()) == []


def test_an_upload_has_the_limits_of_the_server(project: Path, tmp_path: Path, upload: Path) -> None:
    """Samples of results, and bytes of a package; the key to raise is named."""
    uploads = UploadsTable(largest_unpacked_mb=0.01, most_samples=100).limits
    usual = desk(project, tmp_path / "jobs")
    work = replace(usual, worker=replace(usual.worker, place=JobSettings(project=project, uploads=uploads)))
    rows = "".join(f"{number},1\n" for number in range(200))
    state = sent_results(work, project, upload, f"time [ms],force [N]\n{rows}".encode())
    assert "a channel has at least 200 samples, but at most 100 are allowed" in state.failure
    assert "raise uploads.most_samples in the settings of the server" in state.failure
    upload.parent.mkdir()
    plan = PackagePlan(tests=[write_pulse(tmp_path, "T1", 1)], checked_by="lab")
    make_package(plan, upload)
    failure = taken_in(work).failure
    assert "drops.zip: it unpacks to 1 MB, but at most 1 MB are allowed" in failure
    assert "raise uploads.largest_unpacked_mb in the settings of the server" in failure
