"""Brings a store of any age to the present tables."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from alembic.operations import Operations
from alembic.runtime.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import inspect, text

from correlate.errors import StoreError
from correlate.store.tables import NEWEST_FORMAT

if TYPE_CHECKING:
    from sqlalchemy import Connection

VERSION_TABLE: Final = "store_format"
"""Holds the revision; a name of its own, so that no other program's table is taken for ours."""

# Any number does, as long as every process that opens a store uses the same one.
_LOCK_NUMBER: Final = 1_357_181_571


def bring_up_to_date(connection: Connection, place: str) -> None:
    """Make the tables of a new store, upgrade those of an old one, leave those of a present one.

    Parameters
    ----------
    connection
        In a transaction that may write; all of it happens, or nothing.
    place
        Of the store, for messages.

    Raises
    ------
    StoreError
        The store was written by a newer version of the program, or holds the tables of another program.
    """
    if connection.dialect.name == "postgresql":
        # Two programs that open a new store at once take turns. SQLite's write transaction does that itself.
        connection.execute(text("SELECT pg_advisory_xact_lock(:number)"), {"number": _LOCK_NUMBER})
    present = present_format(connection, place)
    if present != NEWEST_FORMAT:
        migrate(connection, present=present, target=NEWEST_FORMAT, place=place)


def present_format(connection: Connection, place: str) -> str | None:
    """Return the revision of a store, None for an empty database.

    Raises
    ------
    StoreError
        There are tables, but none that tells the revision.
    """
    inspector = inspect(connection)
    if inspector.has_table(VERSION_TABLE):
        found = connection.execute(text(f"SELECT version_num FROM {VERSION_TABLE}")).scalar()  # noqa: S608
        return None if found is None else str(found)
    tables = inspector.get_table_names()
    if tables:
        raise StoreError(
            f"this database belongs to another program (it has the table '{tables[0]}')",
            where=place,
            remedy="name a new file, or an empty database or schema",
        )
    return None


def migrate(connection: Connection, *, present: str | None, target: str, place: str) -> None:
    """Run the migrations from one revision to a later one.

    Parameters
    ----------
    connection
        In a transaction that may write.
    present
        Revision of the store, None for an empty database.
    target
        Revision to reach.
    place
        Of the store, for messages.

    Raises
    ------
    StoreError
        No migration has the revision `present`.
    """
    scripts = ScriptDirectory(str(Path(__file__).with_name("migrations")))
    if present is not None and present not in {script.revision for script in scripts.walk_revisions()}:
        raise StoreError(
            f"this store has format {present}, newer than {NEWEST_FORMAT}, the newest this program knows",
            where=place,
            remedy="upgrade the program",
        )
    context = MigrationContext.configure(connection, opts={"version_table": VERSION_TABLE})
    steps = list(scripts.iterate_revisions(target, present or "base"))
    for script in reversed(steps):
        with Operations.context(context):
            script.module.upgrade()
        context.stamp(scripts, script.revision)
