"""What lies in a folder and in a store, without what differs from run to run."""

from __future__ import annotations

import hashlib
import json
import re
import sqlite3
import zipfile
from contextlib import closing
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

from sqlalchemy import MetaData, create_engine, make_url, select

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from sqlalchemy import Engine

    Normal = Callable[[bytes], Any]

STORES = ("ratings.sqlite", "jobs.sqlite", "accounts.sqlite")
_BESIDE = ("-wal", "-shm")
_HASH = re.compile(r"-[0-9a-f]{12}(?=\.json$)")
VOLATILE = frozenset(
    {"id", "run_id", "started", "entered", "entry_id", "first_entry", "first_run", "last_run"}
)
"""Columns that differ from run to run: moments, running numbers, and what points to them."""
PAIR = ("campaign", "release", "load_case", "channel", "repeat")
"""Columns that name a pair."""
VOLATILE_OF = {"audit_trail": frozenset({"moment", "hash"})}
"""More of them by table: the trail tells when it was upgraded."""


@dataclass(frozen=True)
class Snapshot:
    """Contents by path within a folder, and rows by table of the databases.

    Attributes
    ----------
    files
        Content as it is compared; None for a folder.
    rows
        Of every table of every database, sorted.
    """

    files: Mapping[str, Any]
    rows: Mapping[str, list[str]] = field(default_factory=dict)


def snapshot(folder: Path, normal: Callable[[str], Normal | None], address: str = "") -> Snapshot:
    """Return what lies in a folder and in the databases in it, or in the one of a server.

    Parameters
    ----------
    folder
        With everything below it.
    normal
        Returns by path how the content of a file is made comparable; None where it does not matter.
    address
        Of a store on a server; empty for none.
    """
    files: dict[str, Any] = {}
    rows: dict[str, list[str]] = {}
    for path in sorted(folder.rglob("*")):
        name = path.relative_to(folder).as_posix()
        if path.name in STORES:
            rows |= {f"{name}: {table}": found for table, found in _sqlite_rows(path).items()}
        elif not name.endswith(tuple(store + end for store in STORES for end in _BESIDE)):
            # A name with a hash in it that differs from run to run; a second such file is told apart.
            shown = _HASH.sub("-…", name)
            while shown in files:
                shown += " again"
            files[shown] = None if path.is_dir() else _content(path, normal(name))
    if address:
        rows |= _server_rows(address)
    return Snapshot(files, rows)


def _content(path: Path, normal: Normal | None) -> Any:
    return "any" if normal is None else normal(path.read_bytes())


def _sqlite_rows(path: Path) -> dict[str, list[str]]:
    """Return the rows of an SQLite file that passes its own checks."""
    with closing(sqlite3.connect(path, timeout=20)) as connection:
        sound = connection.execute("PRAGMA integrity_check").fetchall()
        assert sound == [("ok",)], f"{path} is damaged: {sound}"
        assert connection.execute("PRAGMA foreign_key_check").fetchall() == [], f"{path} has loose rows"
    engine = create_engine(f"sqlite:///{path}")
    return _rows(engine)


def _server_rows(address: str) -> dict[str, list[str]]:
    return _rows(create_engine(make_url(address).set(drivername="postgresql+psycopg")))


def _rows(engine: Engine) -> dict[str, list[str]]:
    tables = MetaData()
    found: dict[str, list[str]] = {}
    with engine.connect() as connection:
        tables.reflect(connection)
        for table in tables.tables.values():
            left_out = VOLATILE | VOLATILE_OF.get(table.name, frozenset())
            columns = [column for column in table.columns if column.name not in left_out]
            read = connection.execute(select(*columns)) if columns else ()
            found[table.name] = sorted(repr(tuple(row)) for row in read)
        if "present" in tables.tables:
            # The number of an entry differs from run to run, but not the pair and rating it stands for.
            present, entries = tables.tables["present"], tables.tables["entries"]
            pointed = [entries.c[name] for name in (*PAIR, "rating_key")]
            read = connection.execute(
                select(*(present.c[name] for name in PAIR), *pointed).join(
                    entries, entries.c.id == present.c.entry_id
                )
            )
            found["present entries"] = sorted(repr(tuple(row)) for row in read)
    engine.dispose()
    return found


# How contents are made comparable ----------------------------------------------------------------------


def whole(content: bytes) -> Any:
    """Compare every byte."""
    return hashlib.sha256(content).hexdigest()


def json_without(*keys: str) -> Normal:
    """Compare JSON but for the values of some keys, wherever they stand; it must be valid."""

    def strip(value: Any) -> Any:
        if isinstance(value, dict):
            return {key: "…" if key in keys else strip(one) for key, one in value.items()}
        return [strip(one) for one in value] if isinstance(value, list) else value

    return lambda content: strip(json.loads(content))


def names_in_zip(content: bytes) -> Any:
    """Compare the names and sizes of the files in a sound zip file."""
    import io  # noqa: PLC0415 - for this alone

    with zipfile.ZipFile(io.BytesIO(content)) as archive:
        assert archive.testzip() is None
        return sorted(archive.namelist())
