"""Accounts databases as the version before the formats created them, written out by hand."""

from __future__ import annotations

from contextlib import contextmanager
from typing import TYPE_CHECKING, Final

from correlate import database as way

if TYPE_CHECKING:
    from collections.abc import Iterator

    from sqlalchemy import Connection

_REFUSAL: Final = "lines of the audit trail are never changed"

_NUMBERS: Final = {"sqlite": "INTEGER NOT NULL PRIMARY KEY", "postgresql": "BIGSERIAL NOT NULL PRIMARY KEY"}

_TABLES: Final = """
CREATE TABLE accounts (name TEXT NOT NULL PRIMARY KEY,
    role TEXT NOT NULL CHECK (role IN ({roles})),
    password_hash TEXT NOT NULL, session_mark TEXT NOT NULL, closed BOOLEAN NOT NULL, added TEXT NOT NULL);
CREATE TABLE sign_in_failures (id {number}, moment TEXT NOT NULL, name TEXT NOT NULL, address TEXT NOT NULL);
CREATE INDEX failures_by_moment ON sign_in_failures (moment);
CREATE TABLE audit_trail (id {number}, moment TEXT NOT NULL, who TEXT NOT NULL, what TEXT NOT NULL,
    about TEXT NOT NULL, address TEXT NOT NULL);
INSERT INTO accounts VALUES ('lab', 'lab', 'a hash', 'a mark', false, '2030-01-02T03:04:05.000Z');
INSERT INTO sign_in_failures (moment, name, address) VALUES ('2030-01-02T03:04:05.000Z', 'lab', '192.0.2.1');
INSERT INTO audit_trail (moment, who, what, about, address) VALUES
    ('2030-01-02T03:04:05.000Z', 'lab', 'signed in', '', '192.0.2.1'),
    ('2030-01-03T03:04:05.000Z', 'λab', 'signed out', 'née', '')
"""

_TRIGGERS: Final = {
    "sqlite": [
        f"CREATE TRIGGER audit_trail_no_{deed} BEFORE {deed} ON audit_trail "
        f"BEGIN SELECT RAISE(ABORT, '{_REFUSAL}'); END"
        for deed in ("update", "delete")
    ],
    "postgresql": [
        (
            "CREATE FUNCTION refuse_change_of_audit_trail() RETURNS trigger LANGUAGE plpgsql AS "
            f"$$ BEGIN RAISE EXCEPTION '{_REFUSAL}'; END $$"
        ),
        (
            "CREATE TRIGGER audit_trail_is_kept BEFORE UPDATE OR DELETE OR TRUNCATE ON audit_trail "
            "FOR EACH STATEMENT EXECUTE FUNCTION refuse_change_of_audit_trail()"
        ),
    ],
}

ROLES: Final = "'viewer', 'manager', 'analyst', 'lab', 'admin'"
"""Of the last version without formats; the first had no manager."""


@contextmanager
def unopened(place: str) -> Iterator[Connection]:
    """Open a transaction on a database without bringing it up to date."""
    engine = way.connect(way.address(place, "accounts database"), noun="accounts database", wait_s=60)
    with way.writing(engine) as connection:
        yield connection
    engine.dispose()


def write_old_database(place: str, *, roles: str = ROLES) -> None:
    """Create a database of before the formats: an account, a failed attempt, two lines of the trail."""
    with unopened(place) as connection:
        dialect = connection.dialect.name
        tables = _TABLES.format(roles=roles, number=_NUMBERS[dialect])
        for statement in [*tables.split(";\n"), *_TRIGGERS[dialect]]:
            connection.exec_driver_sql(statement)
