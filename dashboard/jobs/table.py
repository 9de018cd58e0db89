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
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Annotated, Any, Final, Literal

from pydantic import BaseModel, ConfigDict, Field, Json, ValidationError, ValidationInfo, field_validator

from correlate import CorrelateError
from correlate.private_folder import check_own, private_folder
from dashboard.jobs.kinds import KINDS
from dashboard.jobs.schema import RECORD, prepare

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

Stage = Literal["waiting", "running", "done", "failed", "cancelled"]

OVER: Final = frozenset({"done", "failed", "cancelled"})

FILE: Final = "jobs.sqlite"

_WAIT_S: Final = 30
"""For which a process waits while another writes."""

_FORGET_AFTER: Final = timedelta(days=1)

# Column names stand in these statements, values never do.
_FIND: Final = f"SELECT {RECORD} FROM jobs WHERE number = ?"  # noqa: S608
_OPEN: Final = f"SELECT {RECORD} FROM jobs WHERE stage IN ('waiting', 'running') ORDER BY rowid"  # noqa: S608

_ADD: Final = "INSERT INTO jobs (number, kind, arguments, who, started) VALUES (?, ?, ?, ?, ?)"
_NEXT: Final = """
SELECT number FROM jobs WHERE stage = 'waiting' AND worker IS NULL ORDER BY rowid LIMIT 1
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
_ALIVE: Final = "INSERT OR REPLACE INTO workers (name, heartbeat) VALUES (?, ?)"
_FORGET: Final = "DELETE FROM workers WHERE name = ? OR heartbeat < ?"
_COUNTS: Final = "SELECT stage, count(*) FROM jobs WHERE stage IN ('waiting', 'running') GROUP BY stage"
_LAST_BEAT: Final = "SELECT max(heartbeat) FROM workers"
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


class DiskFullError(CorrelateError):
    """The disk of the jobs table is full; it can be used again when there is space."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Claim:
    """What the table says about who does a job; nothing of it is validated."""

    number: Any
    worker: Any
    heartbeat: Any


@dataclass(frozen=True, slots=True, kw_only=True)
class Activity:
    """What the workers of a table do.

    Attributes
    ----------
    running, waiting
        How many jobs.
    silent_s
        Seconds since the last heartbeat of any worker; None where none has ever given one.
    """

    running: int
    waiting: int
    silent_s: float | None


class JobTable:
    """The jobs of a folder, shared by the server and its workers."""

    def __init__(self, folder: Path) -> None:
        private_folder(folder)
        self.folder: Final = folder
        self._file = folder / FILE
        self._place = str(self._file)
        # SQLite also reads what an interrupted program left beside its file.
        for file in (self._file, *folder.glob(f"{FILE}-*")):
            check_own(file)
        with self._connected() as connection:
            prepare(connection, self._place)
        # From now on pages show the messages, which must not name the folder of the server.
        self._place = FILE

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
        """Write that a worker is alive, also to the jobs it runs."""
        now = _now()
        self._write(_BEAT, now, worker)
        self._write(_ALIVE, worker, now)

    def leave(self, worker: str) -> None:
        """Write that a worker has ended; those that were killed long ago are forgotten, too."""
        self._write(_FORGET, worker, _text_of(datetime.now(UTC) - _FORGET_AFTER))

    def activity(self) -> Activity:
        """Return what the workers do now."""
        with self._connected() as connection:
            counts = dict(map(tuple, connection.execute(_COUNTS)))
            (beat,) = connection.execute(_LAST_BEAT).fetchone()
        return Activity(
            running=counts.get("running", 0),
            waiting=counts.get("waiting", 0),
            silent_s=None if beat is None else _seconds_since(beat),
        )

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
            raise _complaint(error, self._place) from error


def result_text(kind: str, result: Mapping[str, Any]) -> str:
    """Return a result as JSON, checked as it will be when it is read."""
    # File names that are not UTF-8 come in findings; JSON and SQLite hold valid text only.
    text = _text(json.dumps(dict(result), ensure_ascii=False))
    KINDS[kind].result.model_validate_json(text)
    return text


def _complaint(error: sqlite3.Error, place: str) -> CorrelateError:
    """Return what the refusal of SQLite means, in one sentence."""
    # The lowest byte is the kind of the error; the library itself raises errors that have none.
    code = getattr(error, "sqlite_errorcode", 0) & 0xFF
    if code in {sqlite3.SQLITE_FULL, sqlite3.SQLITE_IOERR}:
        return DiskFullError(
            f"the jobs table cannot be written: the disk is full or failing ({error})",
            where=place,
            remedy="free some space on the disk of the server, then try again",
        )
    if code == sqlite3.SQLITE_READONLY:
        return CorrelateError(
            "the jobs table cannot be written: its disk or file is read-only",
            where=place,
            remedy="give the user of the server permission to write to the file and its folder",
        )
    return CorrelateError(
        f"the jobs table cannot be used ({error})",
        where=place,
        remedy="check that its disk has space; if the file is damaged, stop the server and delete it",
    )


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
    return _text_of(datetime.now(UTC))


def _text_of(moment: datetime) -> str:
    return moment.isoformat(timespec="milliseconds").replace("+00:00", "Z")


def _seconds_since(text: str) -> float:
    """Return how long ago a moment was; 0 where the clock was set back since."""
    return max(0.0, (datetime.now(UTC) - datetime.fromisoformat(text)).total_seconds())
