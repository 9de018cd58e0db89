"""What the program saved itself: results of qualification, runs, fits, the results store, jobs, the kit."""

from __future__ import annotations

import hashlib
import json
import shutil
import sqlite3
from contextlib import closing
from datetime import date
from typing import TYPE_CHECKING, Any

import numpy as np

from correlate.laboratory.log import kept_qualifications
from correlate.laboratory.overview import laboratory_overview
from correlate.laboratory.register import read_register
from correlate.selfcheck.kit import HASH_FILE, KIT
from correlate.selfcheck.running import run_selfcheck
from correlate.store import open_store
from correlate.tuning.definition import load_tuning
from correlate.tuning.runs import read_state, run_table
from dashboard.jobs.table import JobTable
from tests.fuzz.rounds import Target, write_files
from tests.fuzz.targets.settings import finite
from tests.fuzz.watching import Wrong
from tests.laboratory.books import REGISTER, kept, pushed, register_in
from tests.store.writer import RUN, numbered_record

if TYPE_CHECKING:
    from pathlib import Path

    from tests.fuzz.mutations import Case

# The log of a laboratory ---------------------------------------------------------------------------------


def _log_seeds(folder: Path) -> list[Case]:
    register = register_in(folder)
    saved = [
        kept(register, pushed(height, day=day)).path
        for height, day in ((50.0, "2025-03-01"), (52.0, "2025-05-01"), (70.0, "2025-08-01"))
    ]
    files = {f"qualifications/{index}.json": path.read_bytes() for index, path in enumerate(saved)}
    return [files | {"laboratory.toml": REGISTER.encode()}]


def _read_log(files: Path) -> None:
    register = read_register(files)
    for one in kept_qualifications(register):
        finite(one, one.recording)
    laboratory_overview(register, date(2026, 1, 1))


# Tuning runs -----------------------------------------------------------------------------------------

_DECK = "stiffness = {{ a }}\n"
_TUNING = """\
title = "spring"
[deck]
way = "template"
template = "t.deck"
file = "model.deck"
[run]
command = ["true"]
timeout_s = 10
[rated]
campaign = "campaign.toml"
[goal]
objective = "weighted rating"
train = ["drop"]
held_out = []
[[parameter]]
name = "a"
unit = "1"
lower = 0.5
upper = 2
start = 1
"""


def _run_seeds(_: Path) -> list[Case]:
    run = {
        "identity": "P0",
        "values": {"a": 1.0},
        "deck_sha256": "0" * 64,
        "status": "done",
        "message": "",
        "outcomes": {"train": 0.5},
    }
    files = {
        "tuning.toml": _TUNING,
        "t.deck": _DECK,
        "campaign.toml": "",
        "design.csv": "point,round,a\nP0,0,1.0\nP1,0,1.5\n",
        "runs/P0/run.json": json.dumps(run),
        "runs/P1/run.json": json.dumps(run | {"identity": "P1", "values": {"a": 1.5}}),
    }
    return [{name: text.encode() for name, text in files.items()}]


def _read_runs(files: Path) -> None:
    tuning = load_tuning(files)
    table = run_table(tuning, read_state(tuning))
    if not np.isfinite(table.points).all():
        raise Wrong("a point of a run is not finite")
    for name, values in table.outcomes.items():
        if np.isinf(values).any():
            raise Wrong(f"outcome {name!r} of a run is infinite")


# The results store -------------------------------------------------------------------------------------


def _store_seeds(folder: Path) -> list[Case]:
    path = folder / "ratings.sqlite"
    with open_store(path) as store:
        store.keep([numbered_record(number) for number in range(4)], run=RUN)
    with closing(sqlite3.connect(path)) as connection:
        connection.execute("PRAGMA journal_mode = DELETE")
        connection.execute("VACUUM")
    return [{"ratings.sqlite": path.read_bytes()}]


def _read_store(files: Path) -> None:
    """Read everything a store holds, from a copy: opening one may upgrade it."""
    copy = files.parent / "out" / "ratings.sqlite"
    shutil.copyfile(files / "ratings.sqlite", copy)
    with open_store(copy) as store:
        for campaign in store.campaigns():
            for release in store.releases(campaign):
                store.ratings(campaign=campaign, release=release.name)
            store.rated_pairs(campaign)
            store.runs(campaign)
            store.ceilings(campaign)
            store.evidence(campaign)
            store.findings(campaign)
            store.notes(campaign=campaign)
            store.sign_offs(campaign=campaign)


# The jobs table ----------------------------------------------------------------------------------------

_JOB = {
    "number": "1",
    "kind": "score",
    "arguments": "{}",
    "who": "lab",
    "started": "2026-03-04T12:00:00.000Z",
    "stage": "waiting",
    "progress": 0.0,
    "words": "",
    "result": "{}",
    "failure": "",
    "cancelling": 0,
}


def _job_seeds(_: Path) -> list[Case]:
    return [{"record.json": json.dumps(_JOB).encode()}]


def _assemble_jobs(case: Case, folder: Path) -> None:
    """Write a record into a jobs table, whatever the types of its values."""
    write_files(case, folder)
    JobTable(folder / "jobs")
    try:
        given: Any = json.loads(case["record.json"])
    except (KeyError, ValueError, RecursionError):
        return
    record = {name: _value(given.get(name)) for name in _JOB} if isinstance(given, dict) else {}
    marks = ", ".join("?" for _ in record)
    with closing(sqlite3.connect(folder / "jobs" / "jobs.sqlite")) as connection, connection:
        connection.execute("PRAGMA ignore_check_constraints = 1")
        statement = f"INSERT OR IGNORE INTO jobs ({', '.join(record)}) VALUES ({marks})"  # noqa: S608
        if record:
            connection.execute(statement, list(record.values()))


def _value(value: Any) -> Any:
    if isinstance(value, str):
        return (
            value.encode("utf-8", "surrogatepass")
            if "\ud800" <= max(value, default="") <= "\udfff"
            else value
        )
    small = isinstance(value, int) and abs(value) >= 2**63
    return json.dumps(value) if isinstance(value, dict | list) or small else value


def _read_job(files: Path) -> None:
    table = JobTable(files / "jobs")
    table.open_jobs()
    table.claims()
    finite(table.find("1"), "job")


# The kit of the self-check ------------------------------------------------------------------------------


def _kit_seeds(_: Path) -> list[Case]:
    """Take the short checks of the kit that comes with the program."""
    text = (KIT / "kit.toml").read_text(encoding="utf-8")
    head, *checks = text.split("[[check]]")
    name = "criteria-square-50g.csv"
    chosen = [check for check in checks if f'"{name}"' in check]
    kit = "[[check]]".join([head, *chosen])
    return [{"kit.toml": kit.encode(), name: (KIT / name).read_bytes()}]


def _assemble_kit(case: Case, folder: Path) -> None:
    write_files(case, folder)
    lines = [f"{hashlib.sha256(content).hexdigest()}  {name}\n" for name, content in case.items()]
    (folder / HASH_FILE).write_text("".join(lines), encoding="utf-8")


def _run_kit(files: Path) -> None:
    for one in run_selfcheck(files).checked:
        for row in one.comparisons:
            if row.agrees and (row.found is None or not np.isfinite(row.found)):
                raise Wrong(f"{row.quantity!r} agrees without a number")


TARGETS = (
    Target(
        name="qualification-log",
        seeds=_log_seeds,
        run=_read_log,
        traced=("correlate/laboratory",),
        inputs=120,
        fixed=frozenset({"laboratory.toml"}),
    ),
    Target(
        name="tuning-runs",
        seeds=_run_seeds,
        run=_read_runs,
        traced=("correlate/tuning/runs.py", "correlate/tuning/points.py"),
        inputs=120,
        fixed=frozenset({"tuning.toml", "t.deck", "campaign.toml"}),
    ),
    Target(
        name="store",
        seeds=_store_seeds,
        run=_read_store,
        traced=("correlate/store", "correlate/database.py"),
        inputs=20,
    ),
    Target(
        name="job-record",
        seeds=_job_seeds,
        run=_read_job,
        traced=("dashboard/jobs/table.py",),
        inputs=80,
        assemble=_assemble_jobs,
    ),
    Target(
        name="selfcheck-kit",
        seeds=_kit_seeds,
        run=_run_kit,
        traced=("correlate/selfcheck", "correlate/criteria"),
        inputs=40,
        assemble=_assemble_kit,
    ),
)
