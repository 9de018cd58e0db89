"""The tables of the jobs, and how those of earlier versions become them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate import CorrelateError

if TYPE_CHECKING:
    import sqlite3

_JOBS: Final = """\
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

RECORD: Final = "number, kind, arguments, who, started, stage, progress, words, result, failure, cancelling"
"""Columns of a record; a table of the first version has these alone."""

_WORKERS: Final = """\
CREATE TABLE workers (
    name TEXT PRIMARY KEY NOT NULL,
    heartbeat TEXT NOT NULL
)"""

_PRESENT: Final = "SELECT name, sql FROM sqlite_master WHERE sql NOTNULL"
_UPGRADE: Final = f"INSERT INTO jobs ({RECORD}) SELECT {RECORD} FROM jobs_before ORDER BY rowid"  # noqa: S608


def prepare(connection: sqlite3.Connection, place: str) -> None:
    """Make the tables, or keep the jobs of earlier versions; refuse a file that holds anything else."""
    connection.execute("BEGIN IMMEDIATE")
    present = dict(map(tuple, connection.execute(_PRESENT)))
    if not present:
        connection.execute(_JOBS)
        connection.execute(_WORKERS)
    elif present == {"jobs": _JOBS}:
        # The second version, in which a worker without a job left no trace.
        connection.execute(_WORKERS)
    elif present != {"jobs": _JOBS, "workers": _WORKERS}:
        _refuse_others(connection, present, place)
        connection.execute("ALTER TABLE jobs RENAME TO jobs_before")
        connection.execute(_JOBS)
        connection.execute(_UPGRADE)
        connection.execute("DROP TABLE jobs_before")
        connection.execute(_WORKERS)
    connection.execute("COMMIT")


def _refuse_others(connection: sqlite3.Connection, present: dict[str, str], place: str) -> None:
    """Refuse whatever is not the table of the first version."""
    columns = [row["name"] for row in connection.execute("PRAGMA table_info(jobs)")]
    if [*present] != ["jobs"] or columns != RECORD.split(", "):
        raise CorrelateError(
            "this file does not hold the jobs table of this version",
            where=place,
            remedy="stop the server and delete the file, or name another folder under [jobs]",
        )
