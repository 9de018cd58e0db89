"""The jobs table: one job for one worker, and a planted or damaged file is refused with one sentence."""

from __future__ import annotations

import multiprocessing
import os
import pickle
import sqlite3
from contextlib import closing
from queue import SimpleQueue
from threading import Barrier, Thread
from typing import TYPE_CHECKING, Any

import pytest

from correlate import CorrelateError
from dashboard.access import Account, Role
from dashboard.jobs import Jobs
from dashboard.jobs.table import JobTable
from tests.dashboard.jobs.at_work import PATIENCE_S, desk

if TYPE_CHECKING:
    from pathlib import Path

ANALYST = Account(name="analyst", role=Role.ANALYST)

FIRST_VERSION = """
CREATE TABLE IF NOT EXISTS jobs (
    number TEXT PRIMARY KEY,
    kind TEXT NOT NULL,
    arguments TEXT NOT NULL,
    who TEXT NOT NULL,
    started TEXT NOT NULL,
    stage TEXT NOT NULL,
    progress REAL NOT NULL DEFAULT 0,
    words TEXT NOT NULL DEFAULT '',
    result TEXT NOT NULL DEFAULT '{}',
    failure TEXT NOT NULL DEFAULT '',
    cancelling INTEGER NOT NULL DEFAULT 0
)
"""


class Planted:
    """Leaves a file when its pickle is loaded."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def __reduce__(self) -> tuple[Any, ...]:
        """Return the call that loading makes."""
        return (os.mkdir, (str(self.path),))


def change(folder: Path, statement: str, *values: object) -> None:
    """Write into the file behind the back of the program."""
    with closing(sqlite3.connect(folder / "jobs.sqlite")) as connection, connection:
        connection.execute(statement, values)


def claim_in_step(folder: Path, worker: str, rounds: int, start: Any, claimed: Any) -> None:
    """Claim one job a round, each time at the same moment as the other worker, and hand over what was got."""
    table = JobTable(folder)
    for _ in range(rounds):
        start.wait(PATIENCE_S)
        claimed.put(table.claim(worker))


@pytest.mark.parametrize("kind", ["threads", "processes"])
def test_two_workers_never_claim_the_same_job(tmp_path: Path, kind: str) -> None:
    """Two workers that reach for the oldest job at the same moment get different ones, every time."""
    table, rounds = JobTable(tmp_path), 15
    numbers = [f"job-{count}" for count in range(2 * rounds)]
    for number in numbers:
        table.add(number, "score", {"releases": []}, "analyst")
    spawn = multiprocessing.get_context("spawn")
    start: Any = Barrier(2) if kind == "threads" else spawn.Barrier(2)
    claimed: Any = SimpleQueue() if kind == "threads" else spawn.Queue()
    told = [(tmp_path, worker, rounds, start, claimed) for worker in ("one", "two")]
    begin = Thread if kind == "threads" else spawn.Process
    workers = [begin(target=claim_in_step, args=arguments) for arguments in told]
    for worker in workers:
        worker.start()
    got = [claimed.get(timeout=PATIENCE_S) for _ in numbers]
    for worker in workers:
        worker.join(PATIENCE_S)
    assert sorted(map(str, got)) == sorted(numbers)


def test_the_oldest_job_is_claimed_first(tmp_path: Path) -> None:
    """Jobs are handed out in the order in which they were started, and then no more."""
    table = JobTable(tmp_path)
    for number in ("b", "a", "c"):
        table.add(number, "score", {}, "analyst")
    assert [table.claim("one") for _ in range(4)] == ["b", "a", "c", None]


def test_only_the_worker_that_has_a_job_writes_to_it(tmp_path: Path) -> None:
    """What a worker reports after its job was given up is not kept."""
    table = JobTable(tmp_path)
    table.add("one", "check", {}, "analyst")
    assert table.claim("first") == "one"
    assert not table.report("one", "second", 0.5, "examining")
    (claim,) = table.claims()
    table.give_up(claim, "it is lost")
    assert not table.report("one", "first", 0.5, "examining")
    table.end("one", "first", "done", result='{"findings": {}, "errors": 0}')
    state = table.find("one")
    assert (state.stage, state.progress, state.failure) == ("failed", 0, "it is lost")


def test_a_sign_of_life_saves_a_job_from_being_given_up(tmp_path: Path) -> None:
    """A heartbeat that came after the claim was read counts."""
    table = JobTable(tmp_path)
    table.add("one", "check", {}, "analyst")
    table.claim("first")
    (claim,) = table.claims()
    change(tmp_path, "UPDATE jobs SET heartbeat = 'later'")
    table.give_up(claim, "it is lost")
    assert table.find("one").stage == "running"


@pytest.mark.parametrize(
    ("column", "value", "word"),
    [
        ("arguments", "not JSON", "arguments"),
        ("arguments", b"\x80\x04\x95", "arguments"),
        ("arguments", "[" * 100_000, "arguments"),
        ("arguments", "[]", "arguments"),
        ("arguments", '{"releases": [1]}', "arguments"),
        ("arguments", '{"shell": "rm"}', "arguments"),
        ("kind", "shell", "kind"),
        ("progress", "far", "progress"),
        ("progress", 1e300, "progress"),
        ("result", "{", "result"),
        ("who", b"\xff", "who"),
        ("words", b"\xff", "words"),
        ("cancelling", 7, "cancelling"),
        ("stage", "paused", "stage"),
    ],
)
def test_a_damaged_record_is_one_sentence(tmp_path: Path, column: str, value: object, word: str) -> None:
    """Whoever asks for the job is told which part is damaged; other jobs go on all the same."""
    work = desk(tmp_path, tmp_path / "jobs")
    damaged, sound = (work.jobs.start("score", {}, ANALYST) for _ in range(2))
    change(tmp_path / "jobs", f"UPDATE jobs SET {column} = ? WHERE number = ?", value, damaged)  # noqa: S608
    with pytest.raises(
        CorrelateError, match=f"^the record of this job is damaged: {word}; start the job again$"
    ):
        work.jobs.state(damaged)
    assert [state.number for state in work.jobs.open_jobs(ANALYST)] == [sound]
    assert work.jobs.start("score", {}, ANALYST)


@pytest.mark.parametrize("result", ["{}", '{"new": "many", "reused": 0, "unrated": []}'])
def test_a_planted_result_is_not_shown(tmp_path: Path, result: str) -> None:
    """The result of a job that is done has exactly the parts that its page reads."""
    table = JobTable(tmp_path)
    table.add("one", "score", {}, "analyst")
    change(tmp_path, "UPDATE jobs SET stage = 'done', result = ?", result)
    with pytest.raises(CorrelateError, match="the record of this job is damaged: result;"):
        table.find("one")


def test_a_planted_job_runs_no_code_and_ends(tmp_path: Path) -> None:
    """A pickle in place of the arguments, or in a queue of the first version, is never loaded."""
    work = desk(tmp_path, tmp_path / "jobs")
    number = work.jobs.start("score", {}, ANALYST)
    trap = pickle.dumps(Planted(tmp_path / "planted-code-ran"))
    change(tmp_path / "jobs", "UPDATE jobs SET arguments = ?", trap)
    with closing(sqlite3.connect(tmp_path / "jobs/queue.sqlite")) as connection, connection:
        connection.execute("CREATE TABLE task (queue TEXT, data BLOB, priority REAL)")
        connection.execute("INSERT INTO task VALUES ('correlate', ?, 0)", [trap])
    work.do_next()
    assert not work.worker.do_next()
    with closing(sqlite3.connect(tmp_path / "jobs/jobs.sqlite")) as connection:
        ended = connection.execute("SELECT stage, failure FROM jobs WHERE number = ?", [number]).fetchall()
    assert ended == [("failed", "the record of this job is damaged: arguments; start the job again")]
    assert not (tmp_path / "planted-code-ran").exists()
    pickle.loads(trap)  # noqa: S301 - shows that the trap works
    assert (tmp_path / "planted-code-ran").exists()


@pytest.mark.parametrize(
    "statement",
    [
        "CREATE TRIGGER planted AFTER UPDATE ON jobs BEGIN DELETE FROM jobs; END",
        "CREATE VIEW planted AS SELECT 1",
        "ALTER TABLE jobs ADD COLUMN planted TEXT",
        "DROP TABLE jobs",
    ],
)
def test_a_file_with_other_tables_is_refused(tmp_path: Path, statement: str) -> None:
    """Nothing but the jobs table may be in the file, and the table must be exactly ours."""
    JobTable(tmp_path)
    change(tmp_path, statement)
    change(tmp_path, "CREATE TABLE IF NOT EXISTS jobs (number TEXT)")
    with pytest.raises(CorrelateError, match=r"jobs\.sqlite: this file does not hold the jobs table of"):
        JobTable(tmp_path)


@pytest.mark.parametrize("content", [b"not a database, but long enough to be looked at" * 40, None])
def test_a_file_that_is_no_database_is_refused(tmp_path: Path, content: bytes | None) -> None:
    """Text or a folder in place of the file gives one sentence that says what to do."""
    if content is None:
        (tmp_path / "jobs.sqlite").mkdir()
    else:
        (tmp_path / "jobs.sqlite").write_bytes(content)
    with pytest.raises(CorrelateError, match=r"jobs\.sqlite: the jobs table cannot be used \(.*\); check"):
        JobTable(tmp_path)


def test_jobs_of_the_first_version_are_kept(tmp_path: Path) -> None:
    """A job that waited is done, and how one ended can still be seen."""
    change(tmp_path, FIRST_VERSION)
    insert = (
        "INSERT INTO jobs (number, kind, arguments, who, started, stage) VALUES (?, 'check', ?, 'lab', ?, ?)"
    )
    told, when = '{"load_cases": []}', "2026-11-01T00:00:00Z"
    change(tmp_path, insert, "over", told, when, "cancelled")
    change(tmp_path, insert, "waits", told, when, "waiting")
    table = JobTable(tmp_path)
    assert table.find("over").stage == "cancelled"
    assert [state.number for state in Jobs(tmp_path).open_jobs(Account(name="lab", role=Role.LAB))] == [
        "waits"
    ]
    assert table.claim("worker") == "waits"
