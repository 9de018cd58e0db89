"""An accounts database of any age comes up to date with its contents; one from the future is left alone."""

from __future__ import annotations

import json
import subprocess
import sys
from itertools import count
from pathlib import Path

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from alembic.script import ScriptDirectory
from sqlalchemy import inspect, text

import dashboard.accounts.migrations
from correlate import CorrelateError
from dashboard.access import Role
from dashboard.accounts import AccountBook, AuditTrail, open_accounts
from dashboard.accounts.book import MIGRATIONS
from dashboard.accounts.tables import METADATA, NEWEST_FORMAT
from tests.dashboard.accounts import killed_upgrade
from tests.dashboard.accounts.old_databases import ROLES, unopened, write_old_database
from tests.dashboard.served import CHEAP, PASSWORD

WITHOUT_MANAGER = ROLES.replace("'manager', ", "")

KILLED = -9


@pytest.mark.parametrize("roles", [ROLES, WITHOUT_MANAGER], ids=["last", "first"])
def test_an_old_database_is_adopted_with_its_contents(place: str, roles: str) -> None:
    """Account and trail are there, every role can be given, and opening once more changes nothing."""
    write_old_database(place, roles=roles)
    for _ in range(2):
        engine = open_accounts(place)
        book = AccountBook(engine, passwords=CHEAP)
        assert [(one.name, one.role, one.session_mark) for one in book.all()] == [("lab", Role.LAB, "a mark")]
        told = [(entry.who, entry.what, entry.about) for entry in AuditTrail(engine).last(9)]
        assert told[:2] == [("lab", "signed in", ""), ("λab", "signed out", "née")]
        engine.dispose()
    engine = open_accounts(place)
    AccountBook(engine, passwords=CHEAP).add("office", Role.MANAGER, PASSWORD)
    engine.dispose()


@pytest.mark.parametrize("age", ["new", "old"])
def test_tables_are_those_of_the_migrations(place: str, age: str) -> None:
    """The tables in the code are those that all migrations make, in new and in old databases."""
    if age == "old":
        write_old_database(place)
    open_accounts(place).dispose()
    with unopened(place) as connection:
        context = MigrationContext.configure(connection, opts={"version_table": MIGRATIONS.table})
        assert compare_metadata(context, METADATA) == []
        assert context.get_current_revision() == NEWEST_FORMAT


def test_every_role_may_be_saved() -> None:
    """The newest table of accounts accepts the roles of the code; a new role needs a migration."""
    assert "'" + "', '".join(role.value for role in Role) + "'" == ROLES


def test_the_newest_format_is_the_last_migration() -> None:
    """The number in the code is that of the newest file, and the files make one line."""
    scripts = ScriptDirectory(str(Path(dashboard.accounts.migrations.__file__).parent))
    assert scripts.get_heads() == [NEWEST_FORMAT]
    numbers = [script.revision for script in scripts.walk_revisions()]
    assert numbers == [str(number) for number in range(int(NEWEST_FORMAT), 0, -1)]


def test_a_database_from_a_newer_program_is_refused(place: str) -> None:
    """One sentence says so, and the database stays as it is."""
    open_accounts(place).dispose()
    with unopened(place) as connection:
        connection.execute(text("UPDATE accounts_format SET version_num = '99'"))
    said = f"this accounts database has format 99, newer than {NEWEST_FORMAT}, .*; upgrade the program"
    with pytest.raises(CorrelateError, match=said):
        open_accounts(place)
    with unopened(place) as connection:
        assert connection.execute(text("SELECT version_num FROM accounts_format")).scalar_one() == "99"


def test_a_failed_upgrade_leaves_the_old_database(place: str) -> None:
    """A table is in the way: no part of the upgrade stays, and without the obstacle it succeeds."""
    write_old_database(place)
    with unopened(place) as connection:
        connection.execute(text("CREATE TABLE known_devices (x INTEGER)"))
    with pytest.raises(CorrelateError, match="the database reports an error"):
        open_accounts(place)
    assert _is_old(place)
    with unopened(place) as connection:
        connection.execute(text("DROP TABLE known_devices"))
    open_accounts(place).dispose()
    assert not _is_old(place)


def test_an_upgrade_that_is_killed_leaves_the_old_database_or_the_new_one(place: str) -> None:
    """It is killed after its first statement, after its second and so on; the last time it is not."""
    write_old_database(place)
    command = [sys.executable, killed_upgrade.__file__]
    with subprocess.Popen(command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True) as program:
        assert program.stdin is not None
        assert program.stdout is not None
        for statements in count(1):
            program.stdin.write(json.dumps({"place": place, "statements": statements}) + "\n")
            program.stdin.flush()
            if int(program.stdout.readline()) != KILLED:
                break
            assert _is_old(place)
        program.stdin.close()
    assert statements > 15
    assert not _is_old(place)
    engine = open_accounts(place)
    assert [one.name for one in AccountBook(engine).all()] == ["lab"]
    engine.dispose()


def _is_old(place: str) -> bool:
    """Say whether a database is what it was before the upgrade; it must not be anything in between."""
    with unopened(place) as connection:
        tables = set(inspect(connection).get_table_names()) - {"known_devices"}
        columns = {column["name"] for column in inspect(connection).get_columns("accounts")}
        lines = connection.execute(text("SELECT count(*) FROM audit_trail")).scalar_one()
        if tables == MIGRATIONS.tables_before:
            assert columns == {"name", "role", "password_hash", "session_mark", "closed", "added"}
            assert lines == 2
            return True
        newest = connection.execute(text("SELECT version_num FROM accounts_format")).scalar_one()
        assert newest == NEWEST_FORMAT
        return False
