"""What the operations begin with: the smallest project of each kind."""

from __future__ import annotations

import secrets
import shutil
import zipfile
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from correlate import (
    PackagePlan,
    RunInfo,
    load_campaign,
    make_package,
    open_store,
    receive_package,
    score_into,
    verify,
)
from correlate.tuning.definition import load_tuning
from correlate.tuning.missing_runs import local_engine, run_missing
from correlate.tuning.rating import RunRater
from dashboard.accounts import AuditTrail, open_accounts
from dashboard.jobs.table import JobTable
from tests.campaign.conftest import CAMPAIGN as TWO_REPEATS
from tests.campaign.conftest import half_sine, write_columns
from tests.campaign.test_package_use import CAMPAIGN as DROPS
from tests.cli.test_register_commands import written
from tests.cli.test_tune import SOLVER, TUNING
from tests.dashboard.accounts.old_databases import write_old_database
from tests.dashboard.project import write_models, write_project
from tests.dashboard.tuned_project import write_tuning
from tests.laboratory.books import WINDOWS, register_in
from tests.reference.folders import write_pulse
from tests.reference.package.test_received import clipped
from tests.store.test_migrations import database, old_store

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path


def empty(folder: Path) -> None:
    """Write a folder with a word in it."""
    (folder / "note.txt").write_text("nothing to see\n", encoding="utf-8")


def small(folder: Path) -> None:
    """Write the small project of the dashboard: four blocks, fourteen ratings."""
    write_project(folder)


def rated(folder: Path) -> None:
    """Write the small project with its ratings."""
    write_project(folder)
    run = RunInfo(who="build", started=datetime(2031, 1, 2, tzinfo=UTC), campaign_sha256="c0ffee")
    with open_store(folder / "ratings.sqlite") as store:
        score_into(store, load_campaign(folder), run=run, workers=1)


def tuned(folder: Path) -> None:
    """Write a campaign with a solver, a tuning file and three design points."""
    for number, (late, high) in enumerate([(5.0, 4.0), (5.5, 4.2)], start=1):
        write_columns(
            folder / f"tests/R{number}.csv",
            {"force [kN]": half_sine(late, high), "deflection [mm]": half_sine(late + 2, 60.0)},
        )
    case, release = TWO_REPEATS.split("[[release]]")
    spare = case[case.index("[[load_case]]") :].replace('"push"', '"spare"\nheld_out = true')
    (folder / "campaign.toml").write_text(f"{case}{spare}[[release]]{release}", encoding="utf-8")
    (folder / "solver.py").write_text(SOLVER, encoding="utf-8")
    (folder / "tuning.toml").write_text(TUNING, encoding="utf-8")
    points = ["point,round,force,late", "p000,0,3000.0,8.0", "p001,1,3900.0,6.0", "p002,1,3500.0,6.0"]
    (folder / "design.csv").write_text("\n".join(points) + "\n", encoding="utf-8")


def finished_runs(folder: Path) -> None:
    """Write the small project with twelve finished runs."""
    write_tuning(write_project(folder))


def drops(folder: Path) -> None:
    """Write two tests."""
    for number in (1, 2):
        write_pulse(folder / "laboratory", f"T{number}", number)
    (folder / "campaign.toml").write_text(DROPS, encoding="utf-8")


def packed(folder: Path) -> None:
    """Write a package with two tests beside a project."""
    drops(folder)
    tests = [write_pulse(folder / "sent", f"S{number}", 10 + number) for number in (1, 2)]
    make_package(PackagePlan(tests=tests, checked_by="lab"), folder / "drops.zip")
    shutil.rmtree(folder / "sent")


def quarantined(folder: Path) -> None:
    """Write a project with a package in quarantine."""
    drops(folder)
    plan = PackagePlan(tests=[clipped(folder)], checked_by="lab", despite="it is needed")
    make_package(plan, folder / "drops.zip")
    receive_package(folder, folder / "drops.zip")


def received(folder: Path) -> None:
    """Write a project with a received package that is not used yet."""
    packed(folder)
    (folder / "drops.zip").rename(folder / "more.zip")
    receive_package(folder, folder / "more.zip")


def package_is_whole(folder: Path) -> Iterator[str]:
    """Find a package that is nowhere, in two places, or not whole."""
    found = [place for place in ("quarantine", "received") if (folder / place / "drops").exists()]
    if len(found) != 1:
        yield f"the package is in {found}"
    for place in found:
        verify(folder / place / "drops")
        if not (folder / place / "drops.json").is_file():
            yield f"the package in {place} has no note"


def upload_package(folder: Path) -> None:
    """Send the package in, unless it has been received: what the page does."""
    upload = _upload(folder)
    shutil.copyfile(folder / "drops.zip", upload / "drops.zip")
    _start(folder, "ingest", {"upload": upload.name, "file": "drops.zip"})


def upload_results(folder: Path) -> None:
    """Send the results of a release in."""
    upload = _upload(folder)
    results = folder.parent / "results"
    write_models(results, late_s=1e-3, height=190.0)
    with zipfile.ZipFile(upload / "A3.zip", "w") as archive:
        for name in ("drop.csv", "impact.csv"):
            archive.write(results / name, name)
    _start(folder, "results", {"upload": upload.name, "file": "A3.zip", "name": "A3", "note": "sent"})


def nothing_is_left_of_uploads(folder: Path) -> Iterator[str]:
    """Find uploads, and jobs that wait or run, when the worker has ended."""
    jobs = folder.parent / "jobs"
    yield from (f"the upload {one.name} is left" for one in (jobs / "uploads").glob("*"))
    yield from (f"a job {one.stage}" for one in JobTable(jobs).open_jobs())


def _upload(folder: Path) -> Path:
    jobs = folder.parent / "jobs"
    JobTable(jobs)
    upload = jobs / "uploads" / secrets.token_hex(12)
    upload.mkdir(parents=True)
    return upload


def _start(folder: Path, kind: str, arguments: dict[str, str]) -> None:
    JobTable(folder.parent / "jobs").add(secrets.token_urlsafe(12), kind, arguments, "analyst")


def old_store_in(address: str) -> None:
    """Make a store of format 1 at an address."""
    old_store(address)


def old_store_file(folder: Path) -> None:
    """Make a store of format 1 in a file."""
    old_store(str(folder / "ratings.sqlite"))


def old_accounts_in(address: str) -> None:
    """Make an accounts database of before the formats at an address."""
    write_old_database(address)


def old_accounts_file(folder: Path) -> None:
    """Make an accounts database of before the formats in a file."""
    write_old_database(str(folder / "accounts.sqlite"))


def trail_is_sound(folder: Path) -> Iterator[str]:
    """Find a broken chain of the audit trail."""
    engine = open_accounts(str(folder / "accounts.sqlite"))
    state = AuditTrail(engine).check()
    engine.dispose()
    if state.broken_at is not None or not state.entries:
        yield f"the audit trail has {state.words}"


def store_is_old_or_new(folder: Path) -> Iterator[str]:
    """Find a format that is neither the first nor the newest."""
    from sqlalchemy import text  # noqa: PLC0415

    from correlate.store.tables import NEWEST_FORMAT  # noqa: PLC0415

    with database(str(folder / "ratings.sqlite")) as connection:
        format_found = connection.execute(text("SELECT version_num FROM store_format")).scalar_one()
    if format_found not in {"1", NEWEST_FORMAT}:
        yield f"the store has format {format_found}"


def register(folder: Path) -> None:
    """Write the register of a laboratory, windows, and a test."""
    register_in(folder)
    (folder / "windows.toml").write_text(WINDOWS, encoding="utf-8")
    written(folder)


def tuned_and_run(folder: Path) -> None:
    """Write the project of `tuned` with its points run and rated."""
    tuned(folder)
    tuning = load_tuning(folder)
    run_missing(tuning, RunRater(tuning), engine=local_engine(1))
