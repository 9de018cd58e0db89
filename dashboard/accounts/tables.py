"""The tables of the accounts database.

Moments are texts in UTC, so that they sort and anybody can read them.
"""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Final

from sqlalchemy import (
    DDL,
    BigInteger,
    Boolean,
    CheckConstraint,
    Column,
    Connection,
    Index,
    Integer,
    MetaData,
    Table,
    Text,
    column,
    event,
    insert,
    inspect,
    table,
    text,
)

from dashboard.access import Role

METADATA: Final = MetaData()


def _number() -> Column[int]:
    """Make a running number. Only a plain INTEGER counts by itself in SQLite."""
    return Column("id", BigInteger().with_variant(Integer, "sqlite"), primary_key=True)


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
    Column("password_hash", Text, nullable=False),
    Column("session_mark", Text, nullable=False),
    Column("closed", Boolean, nullable=False),
    Column("added", Text, nullable=False),
)
"""Who may sign in. A new mark ends the sessions that carry the old one."""


def allow_every_role(connection: Connection) -> None:
    """Rebuild the table of accounts where it was made before a role of this version existed."""
    checks = " ".join(one["sqltext"] for one in inspect(connection).get_check_constraints(ACCOUNTS.name))
    if all(f"'{role.value}'" in checks for role in Role):
        return
    before = f"{ACCOUNTS.name}_before"
    connection.execute(text(f"ALTER TABLE {ACCOUNTS.name} RENAME TO {before}"))
    ACCOUNTS.create(connection)
    names = ACCOUNTS.c.keys()
    rows = table(before, *(column(name) for name in names)).select()
    connection.execute(insert(ACCOUNTS).from_select(names, rows))
    connection.execute(text(f"DROP TABLE {before}"))


FAILURES: Final = Table(
    "sign_in_failures",
    METADATA,
    _number(),
    Column("moment", Text, nullable=False),
    Column("name", Text, nullable=False),
    Column("address", Text, nullable=False),
    Index("failures_by_moment", "moment"),
)
"""Attempts to sign in that failed lately."""

TRAIL: Final = Table(
    "audit_trail",
    METADATA,
    _number(),
    Column("moment", Text, nullable=False),
    Column("who", Text, nullable=False),
    Column("what", Text, nullable=False),
    Column("about", Text, nullable=False),
    Column("address", Text, nullable=False),
)
"""Who did what and when. The database itself refuses to change or delete a line."""

_REFUSAL: Final = "lines of the audit trail are never changed"

_ABORT: Final = f"SELECT RAISE(ABORT, '{_REFUSAL}')"

_REFUSALS: Final[dict[str, list[str]]] = {
    "sqlite": [
        f"CREATE TRIGGER audit_trail_no_{deed} BEFORE {deed} ON audit_trail BEGIN {_ABORT}; END"
        for deed in ("update", "delete")
    ],
    "postgresql": [
        f"""CREATE FUNCTION refuse_change_of_audit_trail() RETURNS trigger LANGUAGE plpgsql AS
        $$ BEGIN RAISE EXCEPTION '{_REFUSAL}'; END $$""",
        """CREATE TRIGGER audit_trail_is_kept BEFORE UPDATE OR DELETE OR TRUNCATE ON audit_trail
        FOR EACH STATEMENT EXECUTE FUNCTION refuse_change_of_audit_trail()""",
    ],
}

for _dialect, _statements in _REFUSALS.items():
    for _statement in _statements:
        # The library has no type for this class.
        _made = DDL(_statement).execute_if(dialect=_dialect)  # type: ignore[no-untyped-call]
        event.listen(TRAIL, "after_create", _made)


def moment_text(moment: datetime) -> str:
    """Return a moment as the tables keep it.

    Examples
    --------
    >>> moment_text(datetime(2031, 4, 5, 6, 7, 8, tzinfo=UTC))
    '2031-04-05T06:07:08.000Z'
    """
    return moment.astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
