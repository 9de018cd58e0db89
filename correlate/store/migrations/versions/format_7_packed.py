"""Compressed JSON, hashes as bytes, and one index of entries less."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING, Any

import sqlalchemy as sa
from alembic import op

from correlate.database import tell_progress
from correlate.store.packing import INPUT_WORDS, RATING_WORDS, hash_bytes, packed

if TYPE_CHECKING:
    from collections.abc import Callable

revision = "7"
down_revision = "6"

CHUNK = 2_000
"""Rows that are in memory."""

# Only a plain INTEGER counts by itself in SQLite.
NUMBER = sa.BigInteger().with_variant(sa.Integer, "sqlite")
NAMES = ("campaign", "release", "load_case", "channel", "repeat")

Converter = dict[str, "Callable[[str], bytes]"]

CONVERTED: dict[str, Converter] = {
    "settings": {"hash": hash_bytes},
    "inputs": {"hash": hash_bytes, "content": partial(packed, words=INPUT_WORDS)},
    "ratings": {
        "key": hash_bytes,
        "settings_hash": hash_bytes,
        "ingredients": partial(packed, words=RATING_WORDS),
    },
    "entries": dict.fromkeys(("rating_key", "reference_hash", "candidate_hash"), hash_bytes),
    "present": {},
    "evidence": {"content": packed},
    "findings": {"content": packed},
}
"""Columns that change, and how, by table; tables that others refer to come first."""


def upgrade() -> None:
    """Write new tables that replace the old ones."""
    connection = op.get_bind()
    for columns in (_contents(), _ratings(), _entries(), _evidence()):
        for name, one in columns.items():
            op.create_table(f"new_{name}", *one)
    op.create_table(
        "new_present",
        *(sa.Column(name, sa.Text, primary_key=True) for name in NAMES),
        sa.Column("entry_id", NUMBER, sa.ForeignKey("new_entries.id"), nullable=False),
        sqlite_with_rowid=False,
    )
    for name, converted in CONVERTED.items():
        _copy(connection, name, converted)
    for name in reversed(CONVERTED):
        op.drop_table(name)
    for name in CONVERTED:
        op.rename_table(f"new_{name}", name)
    # Created at the end, because this is faster, and their names are those of the old ones.
    op.create_index("one_entry_a_pair_and_run", "entries", ["run_id", *NAMES], unique=True)
    op.create_index("entries_by_rating", "entries", ["rating_key"])


def _bytes(name: str, *constraints: sa.ForeignKey) -> sa.Column[bytes]:
    return sa.Column(name, sa.LargeBinary, *constraints, nullable=False)


def _text(name: str) -> sa.Column[str]:
    return sa.Column(name, sa.Text, nullable=False)


def _score(name: str) -> sa.Column[float]:
    return sa.Column(name, sa.Double, sa.CheckConstraint(f"{name} BETWEEN 0 AND 1"), nullable=False)


def _contents() -> dict[str, list[sa.Column[Any]]]:
    return {
        "settings": [sa.Column("hash", sa.LargeBinary, primary_key=True), _text("content")],
        "inputs": [sa.Column("hash", sa.LargeBinary, primary_key=True), _bytes("content")],
    }


def _ratings() -> dict[str, list[sa.Column[Any]]]:
    return {
        "ratings": [
            sa.Column("key", sa.LargeBinary, primary_key=True),
            *map(_score, ("overall", "corridor", "phase", "magnitude", "slope")),
            _text("grade"),
            sa.Column("shift_s", sa.Double, nullable=False),
            sa.Column("samples", sa.Integer, nullable=False),
            _bytes("settings_hash", sa.ForeignKey("new_settings.hash")),
            _bytes("ingredients"),
            _text("version"),
        ]
    }


def _entries() -> dict[str, list[sa.Column[Any]]]:
    return {
        "entries": [
            sa.Column("id", NUMBER, primary_key=True),
            sa.Column("run_id", NUMBER, sa.ForeignKey("runs.id"), nullable=False),
            *map(_text, NAMES),
            _bytes("rating_key", sa.ForeignKey("new_ratings.key")),
            _bytes("reference_hash", sa.ForeignKey("new_inputs.hash")),
            _bytes("candidate_hash", sa.ForeignKey("new_inputs.hash")),
        ]
    }


def _evidence() -> dict[str, list[sa.Column[Any]]]:
    return {
        table: [
            *(sa.Column(name, sa.Text, primary_key=True) for name in names),
            _text("state"),
            _bytes("content"),
        ]
        for table, names in (
            ("evidence", ("campaign", "release", "load_case")),
            ("findings", ("campaign", "load_case")),
        )
    }


def _copy(connection: sa.Connection, name: str, converted: Converter) -> None:
    """Copy a table, a chunk at a time."""
    names = [column["name"] for column in sa.inspect(connection).get_columns(f"new_{name}")]
    old, new = (sa.table(table, *map(sa.column, names)) for table in (name, f"new_{name}"))
    total = connection.execute(sa.select(sa.func.count()).select_from(old)).scalar_one()
    rows = sa.select(*old.c)
    if "id" in names:
        rows = rows.order_by(old.c.id)
    read = connection.execute(rows, execution_options={"yield_per": CHUNK}).mappings()
    for number, chunk in enumerate(read.partitions(CHUNK)):
        tell_progress(connection, name, number * CHUNK, total)
        connection.execute(
            sa.insert(new),
            [{**row, **{one: convert(row[one]) for one, convert in converted.items()}} for row in chunk],
        )
    if "id" in names and connection.dialect.name == "postgresql":
        # Rows with numbers of their own leave the counter where it was.
        connection.execute(
            sa.text(
                f"SELECT setval(pg_get_serial_sequence('new_{name}', 'id'), max(id)) FROM new_{name} "  # noqa: S608
                "HAVING max(id) > 0"
            )
        )
