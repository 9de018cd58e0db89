"""The jobs table: one SQLite table that is both the record of every job and the queue of those that wait.

A record holds plain values and JSON, never code, and is validated whenever it is read. The file lies outside
the project, in a folder that only the user of the server can change. A worker takes a job by writing its name
into the empty column ``worker``; what it writes later is kept only while the job is still its own.
"""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing, contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, Json, ValidationError, ValidationInfo, field_validator

from correlate import CorrelateError
from dashboard.jobs.kinds import KINDS
from dashboard.private_folder import check_own, private_folder

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

Stage = Literal["waiting", "running", "done", "failed", "cancelled"]

OVER: Final = frozenset({"done", "failed", "cancelled"})

FILE: Final = "jobs.sqlite"

_WAIT_S: Final = 30
"""For which a process waits while another writes."""

_TABLE: Final = """\
CREATE TABLE jobs (
    number TEXT PRIMARY KEY NOT NULL,
    kind TEXT NOT NULL,
    arguments TEXT NOT NULL,
    who TEXT NOT NULL,
    started TEXT NOT NULL,
    stage TEXT NOT NULL DEFAULT 'waiting',
    progress REAL NOT NULL DEFAULT 0,
    words TEXT NOT NULL DEFAULT '',
    result TEXT NOT NULL DEFAULT '{}',
    failure TEXT NOT NULL DEFAULT '',
    cancelling INTEGER NOT NULL DEFAULT 0,
    worker TEXT,
    heartbeat TEXT
)"""

_RECORD: Final = "number, kind, arguments, who, started, stage, progress, words, result, failure, cancelling"
"""Columns of a record; a table of the first version has these alone."""

# Column names stand in these statements, values never do.
_FIND: Final = f"SELECT {_RECORD} FROM jobs WHERE number = ?"  # noqa: S608
_OPEN: Final = f"SELECT {_RECORD} FROM jobs WHERE stage IN ('waiting', 'running') ORDER BY started, rowid"  # noqa: S608
_UPGRADE: Final = f"INSERT INTO jobs ({_RECORD}) SELECT {_RECORD} FROM jobs_before ORDER BY rowid"  # noqa: S608

_ADD: Final = "INSERT INTO jobs (number, kind, arguments, who, started) VALUES (?, ?, ?, ?, ?)"
_NEXT: Final = """
SELECT number FROM jobs WHERE stage = 'waiting' AND worker IS NULL ORDER BY started, rowid LIMIT 1
"""
_CLAIM: Final = """
UPDATE jobs SET stage = 'running', worker = ?, heartbeat = ?
WHERE number = ? AND stage = 'waiting' AND worker IS NULL
"""
_REPORT: Final = """
UPDATE jobs SET progress = ?, words = ?
WHERE number = ? AND worker = ? AND stage = 'running' AND cancelling = 0
"""
_END: Final = """
UPDATE jobs SET stage = ?, failure = ?, result = ?, progress = CASE ? WHEN 'done' THEN 1 ELSE progress END
WHERE number = ? AND worker = ? AND stage = 'running'
"""
_CANCEL_WAITING: Final = """
UPDATE jobs SET stage = 'cancelled', cancelling = 1 WHERE number = ? AND stage = 'waiting'
"""
_CANCEL_RUNNING: Final = "UPDATE jobs SET cancelling = 1 WHERE number = ? AND stage = 'running'"
_BEAT: Final = "UPDATE jobs SET heartbeat = ? WHERE worker = ? AND stage = 'running'"
# A job that waits and names a worker, or runs and names none, is listed too: nobody would ever do it.
_CLAIMS: Final = """
SELECT number, worker, heartbeat FROM jobs
WHERE stage = 'running' OR (stage = 'waiting' AND worker IS NOT NULL)
"""
_GIVE_UP: Final = """
UPDATE jobs SET stage = 'failed', failure = ?
WHERE number = ? AND worker IS ? AND heartbeat IS ? AND stage IN ('waiting', 'running')
"""


class JobState(BaseModel):
    """State of a job, as it stands in its record.

    Attributes
    ----------
    number
        Of the job.
    kind, arguments
        What is done.
    who
        Name of the account that started it.
    started
        When, in UTC.
    stage
        ``waiting``, ``running``, ``done``, ``failed`` or ``cancelled``.
    progress
        From 0 to 1.
    words
        What is being done.
    result
        What came of it, once it is done.
    failure
        What went wrong, in one sentence.
    cancelling
        Whether somebody wants it to end.
    """

    model_config = ConfigDict(extra="forbid", frozen=True, strict=True)

    number: str
    kind: str
    arguments: Json[dict[str, Any]]
    who: str
    started: str
    stage: Stage
    progress: Annotated[float, Field(ge=0, le=1)]
    words: str
    result: Json[dict[str, Any]]
    failure: str
    # SQLite has no truth values, only 0 and 1.
    cancelling: Annotated[bool, Field(strict=False)]

    @property
    def over(self) -> bool:
        """Whether nothing more will happen."""
        return self.stage in OVER

    @field_validator("kind")
    @classmethod
    def _is_known(cls, kind: str) -> str:
        """Refuse a kind of job that there is not."""
        if kind not in KINDS:
            raise ValueError("there is no such job")
        return kind

    @field_validator("arguments", "result")
    @classmethod
    def _fits_its_kind(cls, value: dict[str, Any], info: ValidationInfo) -> dict[str, Any]:
        """Check arguments, and the result of a job that is done, against the kind of the job."""
        kind = KINDS.get(info.data.get("kind", ""))
        if kind is not None and (info.field_name == "arguments" or info.data.get("stage") == "done"):
            model = kind.arguments if info.field_name == "arguments" else kind.result
            try:
                model.model_validate(value)
            except ValidationError as error:
                raise ValueError("it does not fit the kind of the job") from error
        return value


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """What the table says about who does a job; nothing of it is validated."""

    number: Any
    worker: Any
    heartbeat: Any


class JobTable:
    """The jobs of a folder, shared by the server and its workers."""

    def __init__(self, folder: Path) -> None:
        private_folder(folder)
        self.folder: Final = folder
        self._file = folder / FILE
        # SQLite also reads what an interrupted program left beside its file.
        for file in (self._file, *folder.glob(f"{FILE}-*")):
            check_own(file)
        with self._connected() as connection:
            _prepare(connection, str(self._file))

    def add(self, number: str, kind: str, arguments: Mapping[str, Any], who: str) -> None:
        """Add a job that waits for a worker."""
        self._write(_ADD, number, kind, json.dumps(dict(arguments)), who, _now())

    def find(self, number: str) -> JobState:
        """Return the state of a job; raise CorrelateError where there is none or its record is damaged."""
        with self._connected() as connection:
            row = connection.execute(_FIND, (number,)).fetchone()
        if row is None:
            raise CorrelateError("there is no such job", remedy="start it again")
        return _state(row)

    def open_jobs(self, who: str = "") -> list[JobState]:
        """Return the jobs that are not over, oldest first; those of one account when given."""
        with self._connected() as connection:
            rows = connection.execute(_OPEN).fetchall()
        states: list[JobState] = []
        for row in rows:
            try:
                states.append(_state(row))
            except CorrelateError:
                # Whoever asks for this damaged job is told; the others are listed all the same.
                continue
        return [state for state in states if not who or state.who == who]

    def claim(self, worker: str) -> str | None:
        """Take the job that has waited longest for a worker; return its number, or None where none waits."""
        with self._connected() as connection:
            while (found := connection.execute(_NEXT).fetchone()) is not None:
                number: str = found["number"]
                # One statement: of several workers that found the same job, one changes the row.
                if connection.execute(_CLAIM, (worker, _now(), number)).rowcount == 1:
                    return number
        return None

    def report(self, number: str, worker: str, progress: float, words: str) -> bool:
        """Write how far a job is; return False where it must end: cancelled, or no longer this worker's."""
        return self._write(_REPORT, progress, _text(words), number, worker) == 1

    def end(self, number: str, worker: str, stage: Stage, *, failure: str = "", result: str = "{}") -> None:
        """Write how a job ended, its result as JSON."""
        self._write(_END, stage, _text(failure), result, stage, number, worker)

    def ask_to_cancel(self, number: str) -> None:
        """Cancel a job that waits; ask one that runs to end soon."""
        if not self._write(_CANCEL_WAITING, number):
            self._write(_CANCEL_RUNNING, number)

    def beat(self, worker: str) -> None:
        """Write that a worker is alive to the jobs it runs."""
        self._write(_BEAT, _now(), worker)

    def claims(self) -> list[Claim]:
        """Return who does which job now."""
        with self._connected() as connection:
            return [Claim(**dict(row)) for row in connection.execute(_CLAIMS)]

    def give_up(self, claim: Claim, failure: str) -> None:
        """Mark a job as failed, unless its worker has given a sign of life since the claim was read."""
        self._write(_GIVE_UP, failure, claim.number, claim.worker, claim.heartbeat)

    def _write(self, statement: str, *values: object) -> int:
        """Run one statement, which is a transaction of its own; return how many rows it changed."""
        with self._connected() as connection:
            return connection.execute(statement, values).rowcount

    @contextmanager
    def _connected(self) -> Iterator[sqlite3.Connection]:
        """Open the file; a complaint of SQLite becomes one sentence."""
        try:
            with closing(sqlite3.connect(self._file, timeout=_WAIT_S, isolation_level=None)) as connection:
                connection.row_factory = sqlite3.Row
                # Text that is not UTF-8 is read all the same, so that one damaged record hides no other.
                connection.text_factory = lambda content: content.decode("utf-8", "replace")
                yield connection
        except sqlite3.Error as error:
            raise CorrelateError(
                f"the jobs table cannot be used ({error})",
                where=str(self._file),
                remedy="see that its disk has space; if the file is damaged, stop the server and delete it",
            ) from error


def result_text(kind: str, result: Mapping[str, Any]) -> str:
    """Return a result as JSON, checked as it will be when it is read."""
    # File names that are not UTF-8 come in findings; JSON and SQLite hold valid text only.
    text = _text(json.dumps(dict(result), ensure_ascii=False))
    KINDS[kind].result.model_validate_json(text)
    return text


def _prepare(connection: sqlite3.Connection, place: str) -> None:
    """Make the table, or keep the jobs of the first version; refuse a file that holds anything else."""
    connection.execute("BEGIN IMMEDIATE")
    present = [
        tuple(row) for row in connection.execute("SELECT name, sql FROM sqlite_master WHERE sql NOTNULL")
    ]
    if not present:
        connection.execute(_TABLE)
    elif present != [("jobs", _TABLE)]:
        columns = [row["name"] for row in connection.execute("PRAGMA table_info(jobs)")]
        if [name for name, _ in present] != ["jobs"] or columns != _RECORD.split(", "):
            raise CorrelateError(
                "this file holds other tables than the jobs of this version",
                where=place,
                remedy="stop the server and delete the file, or name another folder under [jobs]",
            )
        connection.execute("ALTER TABLE jobs RENAME TO jobs_before")
        connection.execute(_TABLE)
        connection.execute(_UPGRADE)
        connection.execute("DROP TABLE jobs_before")
    connection.execute("COMMIT")


def _state(row: sqlite3.Row) -> JobState:
    """Return a row as the state it describes; raise CorrelateError where it describes none."""
    values = dict(row)
    try:
        return JobState(**values)
    except ValidationError as error:
        wrong = sorted({str(item["loc"][0]) for item in error.errors()})
        raise CorrelateError(
            f"the record of this job is damaged: {', '.join(wrong)}", remedy="start the job again"
        ) from error


def _text(value: str) -> str:
    """Return a text without half characters, which neither JSON nor SQLite can hold."""
    return value.encode("utf-8", "replace").decode()


def _now() -> str:
    """Return the time, in UTC."""
    return datetime.now(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
