"""Records of all jobs, in a file that the server and the worker share."""

from __future__ import annotations

import json
import sqlite3
from contextlib import closing, contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Final, Literal

from correlate import CorrelateError

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping
    from pathlib import Path

Stage = Literal["waiting", "running", "done", "failed", "cancelled"]

OVER: Final = frozenset({"done", "failed", "cancelled"})

_TABLE: Final = """
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

_INSERT: Final = """
INSERT INTO jobs (number, kind, arguments, who, started, stage) VALUES (?, ?, ?, ?, ?, ?)
"""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobState:
    """How a job goes.

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

    number: str
    kind: str
    arguments: Mapping[str, Any] = field(default_factory=dict)
    who: str
    started: str
    stage: Stage
    progress: float
    words: str
    result: Mapping[str, Any] = field(default_factory=dict)
    failure: str
    cancelling: bool

    @property
    def over(self) -> bool:
        """Whether nothing more will happen."""
        return self.stage in OVER


class JobRecords:
    """The file of the jobs.

    Parameters
    ----------
    folder
        Made when it is absent, for this account alone.

    Raises
    ------
    CorrelateError
        The folder cannot be made or written.
    """

    def __init__(self, folder: Path) -> None:
        try:
            folder.mkdir(mode=0o700, parents=True, exist_ok=True)
        except OSError as error:
            raise CorrelateError(
                f"the job folder cannot be created ({error.strerror})",
                where=str(folder),
                remedy="choose another one, or ask for write permission",
            ) from error
        self._file = folder / "jobs.sqlite"
        with self._writing() as connection:
            connection.execute(_TABLE)

    def add(self, number: str, kind: str, arguments: Mapping[str, Any], who: str) -> None:
        """Note a job that waits.

        Parameters
        ----------
        number, kind, arguments, who
            Of the job.
        """
        started = datetime.now(UTC).isoformat(timespec="seconds").replace("+00:00", "Z")
        row = (number, kind, json.dumps(dict(arguments)), who, started, "waiting")
        with self._writing() as connection:
            connection.execute(_INSERT, row)

    def find(self, number: str) -> JobState:
        """Return how a job goes.

        Parameters
        ----------
        number
            Of the job.

        Returns
        -------
        JobState

        Raises
        ------
        CorrelateError
            There is no such job.
        """
        found = self._states("WHERE number = ?", number)
        if not found:
            raise CorrelateError("there is no such job", remedy="start it again")
        return found[0]

    def open_jobs(self, who: str = "") -> list[JobState]:
        """Return the jobs that are not over, oldest first; only of one account, when given."""
        found = self._states("WHERE stage IN ('waiting', 'running') ORDER BY started, rowid")
        return [state for state in found if not who or state.who == who]

    def begin(self, number: str) -> bool:
        """Note that a job runs now.

        Parameters
        ----------
        number
            Of the job.

        Returns
        -------
        bool
            False when it must not: somebody cancelled it while it waited.
        """
        return self._set(number, "stage = 'waiting'", stage="running")

    def go_on(self, number: str, progress: float, words: str) -> None:
        """Note how far a job is.

        Parameters
        ----------
        number
            Of the job.
        progress
            From 0 to 1.
        words
            What is being done.
        """
        self._set(number, "stage = 'running'", progress=progress, words=words)

    def ask_to_cancel(self, number: str) -> None:
        """Cancel a job that waits; ask one that runs to end soon.

        Parameters
        ----------
        number
            Of the job.
        """
        if not self._set(number, "stage = 'waiting'", stage="cancelled", cancelling=1):
            self._set(number, "stage = 'running'", cancelling=1)

    def end(
        self, number: str, stage: Stage, *, failure: str = "", result: Mapping[str, Any] | None = None
    ) -> None:
        """Note that a job that ran is over.

        Parameters
        ----------
        number
            Of the job.
        stage
            How it ended.
        failure
            What went wrong.
        result
            What came of it.
        """
        more = {"progress": 1.0} if stage == "done" else {}
        kept = json.dumps(dict(result or {}))
        self._set(number, "stage = 'running'", stage=stage, failure=failure, result=kept, **more)

    def _set(self, number: str, condition: str, **values: object) -> bool:
        assigned = ", ".join(f"{name} = ?" for name in values)
        # The names are those of this module; only values come from outside.
        statement = f"UPDATE jobs SET {assigned} WHERE number = ? AND {condition}"  # noqa: S608
        with self._writing() as connection:
            return connection.execute(statement, (*values.values(), number)).rowcount == 1

    def _states(self, condition: str, *values: str) -> list[JobState]:
        with closing(self._connection()) as connection:
            connection.row_factory = sqlite3.Row
            rows = connection.execute(f"SELECT * FROM jobs {condition}", values).fetchall()  # noqa: S608
        return [_state(row) for row in rows]

    @contextmanager
    def _writing(self) -> Iterator[sqlite3.Connection]:
        with closing(self._connection()) as connection, connection:
            yield connection

    def _connection(self) -> sqlite3.Connection:
        return sqlite3.connect(self._file, timeout=30)


def _state(row: sqlite3.Row) -> JobState:
    values = dict(row)
    read = {name: json.loads(values[name]) for name in ("arguments", "result")}
    return JobState(**(values | read | {"cancelling": bool(values["cancelling"])}))
