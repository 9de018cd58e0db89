"""The tables of the store, as the newest migration leaves them."""

from __future__ import annotations

from datetime import UTC, datetime
from functools import cache
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    Date,
    DateTime,
    Double,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
    TypeDecorator,
    UniqueConstraint,
)
from sqlalchemy.exc import SQLAlchemyError

from correlate.database import DAMAGED
from correlate.store.packing import INPUT_WORDS, RATING_WORDS, hash_bytes, hash_text, packed, unpacked

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from sqlalchemy import Dialect

NEWEST_FORMAT: Final = "7"
"""Revision of the newest migration; a test holds it to the files."""

SCORES: Final = ("overall", "corridor", "phase", "magnitude", "slope")
"""Columns of a rating that lie in [0, 1]."""

NAMES: Final = ("campaign", "release", "load_case", "channel", "repeat")
"""Columns of an entry that name its pair."""

BLOCK: Final = ("campaign", "release", "load_case")
"""Columns that name what is rated and saved together."""


class UtcTime(TypeDecorator[datetime]):
    """A moment, written and read in UTC by every database, also by one that knows no time zones."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Turn a moment of any zone to UTC."""
        return None if value is None else value.astimezone(UTC)

    def process_result_value(self, value: datetime | None, dialect: Dialect) -> datetime | None:  # noqa: ARG002
        """Put the zone back where the database dropped it."""
        if value is None:
            return None
        return value.replace(tzinfo=UTC) if value.tzinfo is None else value.astimezone(UTC)


class _BytesOfText(TypeDecorator[str]):
    """A text that the database stores as bytes."""

    impl = LargeBinary
    cache_ok = True

    def to_bytes(self, text: str) -> bytes:
        """Return what is saved."""
        raise NotImplementedError

    def to_text(self, content: bytes) -> str:
        """Return what was saved."""
        raise NotImplementedError

    def process_bind_param(self, value: str | None, dialect: Dialect) -> bytes | None:  # noqa: ARG002
        """Return the bytes of a text."""
        return None if value is None else self.to_bytes(value)

    def result_processor(self, dialect: Dialect, coltype: object) -> Callable[[Any], str | None]:  # noqa: ARG002
        """Return the function that turns a stored value, in SQLite of any type, into a text."""

        def read(value: Any) -> str | None:
            if value is None:
                return None
            # Database errors, which become a message with the location of the store.
            if not isinstance(value, bytes):
                raise SQLAlchemyError(f"{DAMAGED} (these are not bytes)")
            try:
                return self.to_text(value)
            except ValueError as error:
                raise SQLAlchemyError(f"{DAMAGED} ({error})") from error

        return read


class PackedText(_BytesOfText):
    """A text that is saved compressed, with a preset dictionary."""

    cache_ok = True

    def __init__(self, words: bytes = b"") -> None:
        super().__init__()
        self.words = words

    def to_bytes(self, text: str) -> bytes:
        """Compress."""
        return packed(text, self.words)

    def to_text(self, content: bytes) -> str:
        """Return the text."""
        return unpacked(content, self.words)


class Hash(_BytesOfText):
    """A SHA-256: 64 hexadecimal digits in the program, 33 bytes in the database."""

    cache_ok = True

    def to_bytes(self, text: str) -> bytes:
        """Return the bytes."""
        return hash_bytes(text)

    def to_text(self, content: bytes) -> str:
        """Return the digits."""
        return hash_text(content)


def _number() -> Column[int]:
    """Make a running number. Only a plain INTEGER counts by itself in SQLite."""
    return Column("id", BigInteger().with_variant(Integer, "sqlite"), primary_key=True)


METADATA: Final = MetaData()

SETTINGS: Final = Table(
    "settings",
    METADATA,
    Column("hash", Hash, primary_key=True),
    Column("content", Text, nullable=False),
)
"""Conditioning and rating settings as canonical JSON, each kept once under its hash."""

INPUTS: Final = Table(
    "inputs",
    METADATA,
    Column("hash", Hash, primary_key=True),
    Column("content", PackedText(INPUT_WORDS), nullable=False),
)
"""File, hash, channel, unit and history of a conditioned signal, in the same way."""

RATINGS: Final = Table(
    "ratings",
    METADATA,
    Column("key", Hash, primary_key=True),
    *(Column(name, Double, CheckConstraint(f"{name} BETWEEN 0 AND 1"), nullable=False) for name in SCORES),
    Column("grade", Text, nullable=False),
    Column("shift_s", Double, nullable=False),
    Column("samples", Integer, nullable=False),
    Column("settings_hash", Hash, ForeignKey("settings.hash"), nullable=False),
    Column("ingredients", PackedText(RATING_WORDS), nullable=False),
    Column("version", Text, nullable=False),
)
"""The numbers, one row per key."""

RUNS: Final = Table(
    "runs",
    METADATA,
    _number(),
    Column("who", Text, nullable=False),
    Column("started", UtcTime, nullable=False),
    Column("version", Text, nullable=False),
    Column("campaign_sha256", Text, nullable=False),
    UniqueConstraint("who", "started", "version", "campaign_sha256", name="one_row_a_run"),
)
"""Who rated, when, with which version and campaign file."""

ENTRIES: Final = Table(
    "entries",
    METADATA,
    _number(),
    Column("run_id", ForeignKey("runs.id"), nullable=False),
    *(Column(name, Text, nullable=False) for name in NAMES),
    Column("rating_key", Hash, ForeignKey("ratings.key"), nullable=False),
    Column("reference_hash", Hash, ForeignKey("inputs.hash"), nullable=False),
    Column("candidate_hash", Hash, ForeignKey("inputs.hash"), nullable=False),
    Index("one_entry_a_pair_and_run", "run_id", *NAMES, unique=True),
    Index("entries_by_rating", "rating_key"),
)
"""Which rating a pair of a campaign got in a run; several pairs and runs may share a rating."""

PRESENT: Final = Table(
    "present",
    METADATA,
    *(Column(name, Text, primary_key=True) for name in NAMES),
    Column("entry_id", ForeignKey("entries.id"), nullable=False),
    sqlite_with_rowid=False,
)
"""The entry with the present rating of each pair: its last one."""

AGGREGATES: Final = Table(
    "aggregates",
    METADATA,
    *(Column(name, Text, primary_key=True) for name in (*BLOCK, "channel")),
    Column("numbers", Text, nullable=False),
    Column("left_out", Text, nullable=False),
    sqlite_with_rowid=False,
)
"""The values that the result of a channel is computed from, as JSON: repeat, rating, peak of the reference
and further measures of each pair that counts, in the order of their entries; and the repeats that are rated
but do not count."""

BLOCKS: Final = Table(
    "blocks",
    METADATA,
    *(Column(name, Text, primary_key=True) for name in BLOCK),
    Column("pairs", Integer, nullable=False, server_default="0"),
    Column("counted", Integer, nullable=False, server_default="0"),
    Column("digest", Text, nullable=False, server_default=""),
    Column("first_entry", BigInteger().with_variant(Integer, "sqlite")),
    Column("first_run", ForeignKey("runs.id")),
    Column("last_run", ForeignKey("runs.id")),
    Column("state", Text),
    Column("channels", Text, nullable=False, server_default="[]"),
    Column("lacking", Text, nullable=False, server_default="[]"),
)
"""One row per load case of a release: rated pairs, those of them that count, the hash of the aggregates,
first entry, first and last run; from its evidence the state, the names of the channels, and the full evidence
of those with gaps."""

NOTES: Final = Table(
    "notes",
    METADATA,
    _number(),
    Column("campaign", Text, nullable=False),
    Column("release", Text, nullable=False),
    Column("load_case", Text, nullable=False, server_default=""),
    Column("channel", Text, nullable=False, server_default=""),
    Column("text", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("entered", UtcTime, nullable=False),
    Index("notes_by_release", "campaign", "release"),
)
"""Remarks of people; an empty name stands for "all of them"."""

SIGN_OFFS: Final = Table(
    "sign_offs",
    METADATA,
    _number(),
    Column("campaign", Text, nullable=False),
    Column("release", Text, nullable=False),
    Column("role", Text, nullable=False),
    Column("date", Date, nullable=False),
    Column("text", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("entered", UtcTime, nullable=False),
    Column("ratings_sha256", Text, nullable=False),
    Column("scope", Text, nullable=False, server_default=""),
    Column("inputs_sha256", Text, nullable=False, server_default=""),
    Index("sign_offs_by_release", "campaign", "release"),
)
"""Who is responsible for a release, in which role and scope, and for exactly which ratings and inputs."""

CEILINGS: Final = Table(
    "ceilings",
    METADATA,
    *(Column(name, Text, primary_key=True) for name in ("campaign", "load_case", "channel")),
    Column("key", Text, nullable=False),
    *(
        Column(name, Double, CheckConstraint(f"{name} BETWEEN 0 AND 1"), nullable=False)
        for name in ("median", "lowest", "highest")
    ),
    Column("reference_peak", Double, nullable=False),
    Column("repeats", Integer, nullable=False),
)
"""How well the repeats of a channel agree with each other; they can be made again from the tests."""

EVIDENCE: Final = Table(
    "evidence",
    METADATA,
    *(Column(name, Text, primary_key=True) for name in ("campaign", "release", "load_case")),
    Column("state", Text, nullable=False),
    Column("content", PackedText, nullable=False),
)
"""The evidence behind present ratings of a load case of a release, as JSON, and the state of its files."""

FINDINGS: Final = Table(
    "findings",
    METADATA,
    *(Column(name, Text, primary_key=True) for name in ("campaign", "load_case")),
    Column("state", Text, nullable=False),
    Column("content", PackedText, nullable=False),
)
"""What the data check found in the tests of a load case, as JSON, and the state of the tests then."""

Bound = tuple[Any, ...]
"""A row as the database holds it: its values in the order of `written`."""


def written(table: Table) -> list[Column[Any]]:
    """Return the columns of a table that a writer gives: all but a running number."""
    return [column for column in table.columns if column.name != "id"]


def bound(table: Table, row: Mapping[str, Any]) -> Bound:
    """Make a row for a statement that bypasses the types of the columns."""
    return tuple([row[name] if bind is None else bind(row[name]) for name, bind in _binds(table)])


@cache
def _binds(table: Table) -> tuple[tuple[str, Callable[[str], bytes] | None], ...]:
    """Return what makes bytes of a text, for each column that has such a type."""
    return tuple(
        (column.name, column.type.to_bytes if isinstance(column.type, _BytesOfText) else None)
        for column in written(table)
    )
