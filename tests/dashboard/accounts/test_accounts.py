"""Accounts and audit trail, on SQLite and on PostgreSQL."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from sqlalchemy import text

from correlate import CorrelateError
from correlate.database import writing
from dashboard.access import Role
from dashboard.accounts import AccountBook, AuditTrail, open_accounts
from dashboard.accounts.tables import ACCOUNTS
from tests.dashboard.clock import Clock
from tests.dashboard.served import CHEAP, PASSWORD

if TYPE_CHECKING:
    from sqlalchemy import Engine


@pytest.fixture
def book(engine: Engine) -> AccountBook:
    """Return a book with the account of the lab."""
    made = AccountBook(engine, passwords=CHEAP, now=Clock())
    made.add("Lab.Kelpwick", Role.LAB, PASSWORD)
    return made


def test_an_account_is_opened_with_its_password_alone(book: AccountBook) -> None:
    """Name in any case; wrong, empty and foreign passwords and unknown names open nothing."""
    known = book.opened_with("LAB.kelpwick ", PASSWORD)
    assert known is not None
    assert (known.name, known.role, known.added) == ("lab.kelpwick", Role.LAB, "2031-04-05T06:07:00.000Z")
    assert book.opened_with("lab.kelpwick", PASSWORD + "x") is None
    assert book.opened_with("lab.kelpwick", "") is None
    assert book.opened_with("nobody", PASSWORD) is None
    assert book.opened_with("nobody\0", PASSWORD) is None


def test_the_database_holds_no_password(book: AccountBook, engine: Engine) -> None:
    """What is kept is an Argon2id hash, in the form of its reference implementation."""
    assert book.find("lab.kelpwick")
    with engine.connect() as connection:
        kept = connection.execute(ACCOUNTS.select()).one()
    assert kept.password_hash.startswith("$argon2id$v=19$")
    assert PASSWORD not in repr(kept)


def test_accounts_outlive_the_program(book: AccountBook, place: str) -> None:
    """Another program finds them, and opening again changes nothing."""
    again = open_accounts(place)
    assert AccountBook(again, passwords=CHEAP).all() == book.all()
    again.dispose()


def test_every_change_ends_the_sessions(book: AccountBook) -> None:
    """Role, password, closing, opening again, signing out everywhere: each gives a new mark."""
    marks = [_mark(book)]
    book.change_role("lab.kelpwick", Role.VIEWER)
    marks.append(_mark(book))
    book.change_password("lab.kelpwick", "another long password")
    marks.append(_mark(book))
    book.close("lab.kelpwick")
    marks.append(_mark(book))
    assert book.opened_with("lab.kelpwick", "another long password") is None
    book.reopen("lab.kelpwick")
    marks.append(_mark(book))
    book.end_sessions("lab.kelpwick")
    marks.append(_mark(book))
    assert len(set(marks)) == len(marks)
    known = book.opened_with("lab.kelpwick", "another long password")
    assert known is not None
    assert known.role is Role.VIEWER


@pytest.mark.parametrize("name", ["", "two words", "<b>", "a" * 65, "-x", "a/b"])
def test_a_name_that_is_none_is_refused(book: AccountBook, name: str) -> None:
    """Names are letters, digits and a few signs."""
    with pytest.raises(CorrelateError, match="is not a valid account name; use up to 64 letters"):
        book.add(name, Role.VIEWER, PASSWORD)


def test_a_taken_name_is_refused(book: AccountBook) -> None:
    """In any case of letters; the account there is stays as it is."""
    with pytest.raises(CorrelateError, match=r"the account 'lab\.kelpwick' already exists"):
        book.add("LAB.Kelpwick", Role.ADMIN, PASSWORD)
    assert [known.role for known in book.all()] == [Role.LAB]


@pytest.mark.parametrize(
    ("password", "words"),
    [
        ("fourteen chars", "the password has 14 characters; use 15 to 256"),
        ("x" * 257, "the password has 257 characters"),
        ("abababababababab", "repeats a few characters"),
        ("lab.kelpwicklab.kelpwick", "is the name of the account"),
    ],
)
def test_an_easy_password_is_refused(book: AccountBook, password: str, words: str) -> None:
    """Too short, too long, a few characters over and over, or the name; the old one stays."""
    with pytest.raises(CorrelateError, match=words):
        book.change_password("lab.kelpwick", password)
    assert book.opened_with("lab.kelpwick", PASSWORD)


def test_an_unknown_account_cannot_be_changed(book: AccountBook) -> None:
    """The sentence says how to see those there are."""
    with pytest.raises(CorrelateError, match="there is no account 'nobody'; see: correlate account list"):
        book.close("nobody")


def test_the_trail_gives_back_its_newest_lines(engine: Engine) -> None:
    """In order, of one account where asked for, texts cut at a length."""
    trail = AuditTrail(engine, now=Clock())
    for number in range(3):
        trail.add(who="lab", what=f"deed {number}", about="a\0b", address="192.0.2.1")
    trail.add(who="viewer", what="w" * 1000)
    assert [entry.what for entry in trail.last(2, who="lab")] == ["deed 1", "deed 2"]
    assert trail.last(1)[0].what == "w" * 300
    first = trail.last(10)[0]
    assert (first.moment, first.about, first.address) == ("2031-04-05T06:07:00.000Z", "ab", "192.0.2.1")


CHANGES = {
    "update": "UPDATE audit_trail SET who = 'nobody'",
    "delete": "DELETE FROM audit_trail",
    "insert before": "INSERT INTO audit_trail VALUES (0, 'x', 'x', 'x', 'x', 'x', 'x')",
    "insert later": "INSERT INTO audit_trail VALUES (9, 'x', 'x', 'x', 'x', 'x', 'x')",
}
OF_SQLITE = {
    "or replace": "INSERT OR REPLACE INTO audit_trail VALUES (1, 'x', 'x', 'x', 'x', 'x', 'x')",
    "replace": "REPLACE INTO audit_trail VALUES (1, 'x', 'x', 'x', 'x', 'x', 'x')",
    "or ignore": "INSERT OR IGNORE INTO audit_trail VALUES (1, 'x', 'x', 'x', 'x', 'x', 'x')",
    "no number": "INSERT INTO audit_trail VALUES (NULL, 'x', 'x', 'x', 'x', 'x', 'x')",
    "update or replace": "UPDATE OR REPLACE audit_trail SET who = 'nobody'",
    "on conflict": "INSERT INTO audit_trail VALUES (1, 'x', 'x', 'x', 'x', 'x', 'x') "
    "ON CONFLICT (id) DO UPDATE SET who = 'nobody'",
}
OF_POSTGRESQL = {
    "on conflict": OF_SQLITE["on conflict"],
    "truncate": "TRUNCATE audit_trail",
    "merge": "MERGE INTO audit_trail USING (SELECT 1 AS n) AS s ON id = n "
    "WHEN MATCHED THEN UPDATE SET who = 'nobody'",
}


def test_the_database_refuses_to_rewrite_the_trail(engine: Engine) -> None:
    """Not even a program with the password of the database changes, replaces or deletes a line."""
    trail = AuditTrail(engine)
    trail.add(who="lab", what="signed in")
    for change in CHANGES | (OF_SQLITE if engine.dialect.name == "sqlite" else OF_POSTGRESQL):
        statements = CHANGES | OF_SQLITE | OF_POSTGRESQL
        with (
            pytest.raises(CorrelateError, match="lines of the audit trail are never changed"),
            writing(engine) as connection,
        ):
            connection.execute(text(statements[change]))
        assert [entry.who for entry in trail.last(5)] == ["lab"], change
    trail.add(who="lab", what="signed out")
    assert trail.check().entries == 2


def _mark(book: AccountBook) -> str:
    known = book.find("lab.kelpwick")
    assert known is not None
    return known.session_mark
