"""The tables of the accounts database, as its migrations create them.

Moments are texts in UTC, so that they sort and anybody can read them.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Final

from sqlalchemy import (
    BigInteger,
    Boolean,
    CheckConstraint,
    Column,
    Connection,
    Double,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    UniqueConstraint,
    text,
)

from dashboard.access import Role

METADATA: Final = MetaData()

NEWEST_FORMAT: Final = "3"
"""Of the accounts database: the revision of the newest migration."""


# Only a plain INTEGER counts by itself in SQLite.
_NUMBER: Final = BigInteger().with_variant(Integer, "sqlite")


def _text(name: str) -> Column[str]:
    return Column(name, Text, nullable=False)


ACCOUNTS: Final = Table(
    "accounts",
    METADATA,
    Column("name", Text, primary_key=True),
    Column(
        "role",
        Text,
        CheckConstraint("role IN ('" + "', '".join(r.value for r in Role) + "')"),
        nullable=False,
    ),
    _text("password_hash"),
    _text("session_mark"),
    Column("closed", Boolean, nullable=False),
    _text("added"),
    Column("totp_secret", Text),
    Column("totp_last_step", Integer),
    Column("issuer", Text),
    Column("external_id", Text),
    UniqueConstraint("issuer", "external_id", name="accounts_external"),
)
"""Who may sign in. A new mark ends the sessions that carry the old one."""

SESSIONS: Final = Table(
    "sessions",
    METADATA,
    Column("id", Text, primary_key=True),
    _text("account"),
    _text("started"),
    _text("last_seen"),
    _text("address"),
    Column("ended", Text),
    Column("how", Text, nullable=False, server_default=""),
    Column("device_mark", Text, nullable=False, server_default=""),
    Index("sessions_by_account", "account"),
)
"""Sessions, by the hash of their secret."""

RECOVERY_CODES: Final = Table(
    "recovery_codes",
    METADATA,
    Column("account", Text, primary_key=True),
    Column("code_hash", Text, primary_key=True),
    Column("used", Text),
)
"""Codes that replace the second factor, once each."""

KNOWN_DEVICES: Final = Table(
    "known_devices",
    METADATA,
    Column("account", Text, primary_key=True),
    Column("mark_hash", Text, primary_key=True),
    _text("last_seen"),
)
"""Browsers in which an account signed in, by the hash of the mark in their cookie."""

FAILURES: Final = Table(
    "sign_in_failures",
    METADATA,
    Column("id", _NUMBER, primary_key=True),
    _text("moment"),
    _text("name"),
    _text("address"),
    Column("device", Text, nullable=False, server_default=""),
    Column("boot", Text, nullable=False, server_default=""),
    Column("ticks", Double, nullable=False, server_default="0"),
    Index("failures_by_moment", "moment"),
    Index("failures_by_name", "name"),
    Index("failures_by_address", "address"),
)
"""Recent attempts to sign in that failed or are being processed; of an IPv6 address, its network.

``ticks`` are seconds since the system with the mark ``boot`` started; setting the clock does not change them.
"""

COUNTED: Final = Table(
    "counted_attempts",
    METADATA,
    *(Column(name, Text, primary_key=True) for name in ("begun", "what", "who", "address")),
    Column("attempts", Integer, nullable=False),
)
"""Attempts that anybody can repeat, counted until they become one line of the trail."""

TRAIL: Final = Table(
    "audit_trail",
    METADATA,
    Column("id", _NUMBER, primary_key=True, autoincrement=False),
    *(_text(name) for name in ("moment", "who", "what", "about", "address", "hash")),
)
"""Who did what and when, each entry with its hash. The database itself refuses all but a next entry."""


def one_at_a_time(connection: Connection, table: Table) -> None:
    """Let no other program write to a table until this transaction ends; reading goes on."""
    # SQLite's write transaction does that itself.
    if connection.dialect.name == "postgresql":
        connection.execute(text(f"LOCK TABLE {table.name} IN SHARE ROW EXCLUSIVE MODE"))


def moment_text(moment: datetime) -> str:
    """Return a moment as the tables keep it.

    Examples
    --------
    >>> moment_text(datetime(2031, 4, 5, 6, 7, 8, tzinfo=UTC))
    '2031-04-05T06:07:08.000Z'
    """
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
