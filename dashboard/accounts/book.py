"""The accounts of a server and their passwords."""

from __future__ import annotations

import os
import re
import secrets
import unicodedata
from contextlib import suppress
from datetime import UTC, datetime
from functools import cached_property
from pathlib import Path
from threading import BoundedSemaphore
from typing import TYPE_CHECKING, Any, Final

from argon2 import PasswordHasher
from argon2.exceptions import InvalidHashError, VerificationError
from sqlalchemy import delete, insert, select, update
from sqlalchemy.exc import IntegrityError

from correlate import CorrelateError
from correlate.database import Migrations, address, connect, reading, writing
from dashboard.accounts.known import known_account
from dashboard.accounts.tables import ACCOUNTS, KNOWN_DEVICES, NEWEST_FORMAT, SESSIONS, moment_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from sqlalchemy import Connection, Engine, Row

    from dashboard.access import Role
    from dashboard.accounts.known import Identity, KnownAccount


SHORTEST: Final = 15
"""Characters. NIST SP 800-63B-4 asks for 15 where nothing but the password is asked for (from memory)."""

LONGEST: Final = 256
"""Characters; hashing more would only keep the server busy."""

# Each hash takes a tenth of a second and 64 MiB; more at once would keep everybody else waiting.
_AT_ONCE: Final = BoundedSemaphore(2)


class Passwords:
    """Hashes passwords with Argon2id and compares them."""

    def __init__(self, hasher: PasswordHasher | None = None) -> None:
        self._hasher = hasher or PasswordHasher()

    def hashed(self, password: str, *, name: str) -> str:
        """Return the hash of a password that may be used."""
        if not SHORTEST <= len(password) <= LONGEST:
            raise CorrelateError(
                f"the password has {len(password)} characters",
                remedy=f"use {SHORTEST} to {LONGEST}; several words in a row are easy to remember",
            )
        if len(set(password)) < SHORTEST // 3 or password.casefold().replace(name.casefold(), "") == "":
            raise CorrelateError(
                "the password is the name of the account or repeats a few characters",
                remedy="choose one that is hard to guess",
            )
        with _AT_ONCE:
            return self._hasher.hash(password)

    def match(self, kept: str | None, password: str) -> bool:
        """Say whether a password is the one of a hash; of an account without password, none is."""
        with _AT_ONCE:
            try:
                self._hasher.verify(kept or self._hash_of_nobody, password[: LONGEST + 1])
            except (VerificationError, InvalidHashError):
                return False
        return bool(kept)

    @cached_property
    def _hash_of_nobody(self) -> str:
        """Compared with where there is no such account, so that the answer takes as long."""
        return self._hasher.hash("nobody has this password")


_NAME: Final = re.compile(r"[\w][\w.@+-]{0,63}")
_WAIT_S: Final = 10

MIGRATIONS: Final = Migrations(
    Path(__file__).with_name("migrations"),
    NEWEST_FORMAT,
    "accounts_format",
    tables_before=frozenset({"accounts", "sign_in_failures", "audit_trail"}),
)


def open_accounts(file_or_url: str) -> Engine:
    """Open the accounts database; a new one is created, an old one is upgraded."""
    url = address(file_or_url, "accounts database")
    if url.drivername == "sqlite":
        with suppress(OSError):  # where it may not be created, opening it says why
            # Hashes and the trail are nobody else's business.
            os.close(os.open(str(url.database), os.O_CREAT | os.O_RDWR, 0o600))
    engine = connect(url, noun="accounts database", wait_s=_WAIT_S)
    try:
        with writing(engine) as connection:
            MIGRATIONS.bring_up_to_date(connection)
    except BaseException:
        engine.dispose()
        raise
    return engine


def check_accounts(engine: Engine) -> None:
    """Read which format the accounts have; raise CorrelateError where the database cannot be read."""
    with reading(engine) as connection:
        MIGRATIONS.present(connection)


class AccountBook:
    """Adds, changes and looks up accounts. None is ever deleted: the audit trail names them."""

    def __init__(
        self,
        engine: Engine,
        *,
        passwords: Passwords | None = None,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self._engine = engine
        self._passwords = passwords or Passwords()
        self._now = now

    def add(self, name: str, role: Role, password: str | None, *, identity: Identity | None = None) -> None:
        """Add an account; without a password, only another program can prove that somebody may use it."""
        known_as = valid_name(name)
        row = {
            "name": known_as,
            "role": role.value,
            "password_hash": "" if password is None else self._passwords.hashed(password, name=known_as),
            "session_mark": new_mark(),
            "closed": False,
            "added": moment_text(self._now()),
        }
        try:
            with writing(self._engine) as connection:
                connection.execute(insert(ACCOUNTS), row | _columns_of(identity))
        except CorrelateError as error:
            if isinstance(error.__cause__, IntegrityError):
                raise CorrelateError(
                    f"the account '{known_as}' already exists", remedy="choose another name"
                ) from error
            raise

    def find(self, name: str) -> KnownAccount | None:
        """Return an account, open or closed."""
        row = self._row(name)
        return None if row is None else known_account(row)

    def find_identity(self, identity: Identity) -> KnownAccount | None:
        """Return the account of a person at an identity provider, open or closed."""
        with reading(self._engine) as connection:
            row = connection.execute(select(ACCOUNTS).filter_by(**_columns_of(identity))).one_or_none()
        return None if row is None else known_account(row)

    def link(self, name: str, identity: Identity) -> None:
        """Let a person at an identity provider use an account; its sessions end."""
        try:
            self._change(name, "linked to an identity", **_columns_of(identity))
        except CorrelateError as error:
            if isinstance(error.__cause__, IntegrityError):
                raise CorrelateError(
                    f"the subject '{identity.subject}' is linked to another account",
                    remedy="link each subject to one account only",
                ) from error
            raise

    def all(self) -> list[KnownAccount]:
        """Return every account, by name."""
        with reading(self._engine) as connection:
            return [
                known_account(row) for row in connection.execute(select(ACCOUNTS).order_by(ACCOUNTS.c.name))
            ]

    def opened_with(self, name: str, password: str) -> KnownAccount | None:
        """Return the account that a name and a password open."""
        row = self._row(name)
        fits = self._passwords.match(None if row is None else row.password_hash, password)
        return known_account(row) if row is not None and fits and not row.closed else None

    def change_role(self, name: str, role: Role) -> None:
        """Give an account another role; its sessions end."""
        self._change(name, "role changed", role=role.value)

    def change_password(self, name: str, password: str) -> None:
        """Give an account another password; its sessions end, and its browsers are forgotten."""
        hashed = self._passwords.hashed(password, name=plain_name(name))
        self._change(name, "password changed", password_hash=hashed)

    def close(self, name: str) -> None:
        """Let nobody sign in with an account; its sessions end."""
        self._change(name, "account closed", closed=True)

    def reopen(self, name: str) -> None:
        """Let the owner of a closed account sign in again."""
        self._change(name, "account reopened", closed=False)

    def end_sessions(self, name: str) -> None:
        """Sign an account out everywhere."""
        self._change(name, "signed out everywhere")

    def _row(self, name: str) -> Row[Any] | None:
        with reading(self._engine) as connection:
            return connection.execute(select(ACCOUNTS).filter_by(name=plain_name(name))).one_or_none()

    def _change(self, name: str, how: str, **values: object) -> None:
        known_as = plain_name(name)
        changed = update(ACCOUNTS).filter_by(name=known_as).values(session_mark=new_mark(), **values)
        with writing(self._engine) as connection:
            if connection.execute(changed).rowcount != 1:
                raise CorrelateError(f"there is no account '{name}'", remedy="see: correlate account list")
            end_all_sessions(connection, known_as, how, self._now())
            if "password_hash" in values:
                # Somebody else may have used them with the old password.
                connection.execute(delete(KNOWN_DEVICES).filter_by(account=known_as))


def end_all_sessions(connection: Connection, name: str, how: str, now: datetime) -> None:
    """End every session of an account, as a part of the change that is the reason."""
    is_open = (SESSIONS.c.account == name, SESSIONS.c.ended.is_(None))
    connection.execute(update(SESSIONS).where(*is_open).values(ended=moment_text(now), how=how))


def valid_name(name: str) -> str:
    """Return a name as it is kept; refuse what is no name of an account."""
    known_as = plain_name(name)
    if not _NAME.fullmatch(known_as):
        raise CorrelateError(
            f"'{name}' is not a valid account name",
            remedy="use up to 64 letters, digits and . _ @ + -, a letter or digit first",
        )
    return known_as


def plain_name(name: str) -> str:
    """Return a name as it is kept.

    Examples
    --------
    >>> plain_name(" Lab.Kelpwick ")
    'lab.kelpwick'
    """
    # No database likes the null character, and no name holds it.
    return unicodedata.normalize("NFKC", name).replace("\0", "").strip().lower()


def new_mark() -> str:
    """Return a mark that no session carries yet."""
    return secrets.token_urlsafe(16)


def _columns_of(identity: Identity | None) -> dict[str, str]:
    return {} if identity is None else {"issuer": identity.issuer, "external_id": identity.subject}
