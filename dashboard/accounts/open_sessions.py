"""Sessions in the accounts database: a browser holds a secret, the table only its hash."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from hashlib import sha256
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import delete, insert, or_, select, update

from correlate.database import reading, writing
from dashboard.accounts.known import known_account
from dashboard.accounts.tables import ACCOUNTS, SESSIONS, moment_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from sqlalchemy import ColumnElement, Engine, Row

    from dashboard.accounts.known import KnownAccount

SEEN_EVERY: Final = timedelta(minutes=1)
"""Requests in less than this after the last one that was saved are not written."""

KEPT: Final = timedelta(days=1)
"""After its end, a session is deleted; the audit trail names it for longer."""

_CLOCK_ERROR: Final = timedelta(minutes=1)
"""By which a session may have started in the future: clocks are corrected."""

_MOST_SHOWN: Final = 100


@dataclass(frozen=True, slots=True, kw_only=True)
class OpenSession:
    """A session that has not been ended.

    Attributes
    ----------
    id
        Hash of its secret.
    known
        Its account.
    started, last_seen
        When.
    address
        From which it was started.
    """

    id: str
    known: KnownAccount
    started: datetime
    last_seen: datetime
    address: str


class SessionBook:
    """Starts, finds and ends sessions."""

    def __init__(
        self,
        engine: Engine,
        *,
        longest: timedelta,
        idle: timedelta,
        now: Callable[[], datetime] = lambda: datetime.now(UTC),
    ) -> None:
        self._engine = engine
        self._longest = longest
        self._idle = idle
        self._now = now

    def start(self, name: str, address: str) -> str:
        """Start a session and return its secret; forget those that ended long ago."""
        secret, now = secrets.token_urlsafe(32), self._now()
        row = {
            "id": id_of(secret),
            "account": name,
            "started": moment_text(now),
            "last_seen": moment_text(now),
            "address": address,
        }
        long_ago = moment_text(now - KEPT)
        # A browser that never came back ends nothing: its sessions go by their age.
        too_old = SESSIONS.c.started < moment_text(now - KEPT - self._longest)
        with writing(self._engine) as connection:
            connection.execute(delete(SESSIONS).where(or_(SESSIONS.c.ended < long_ago, too_old)))
            connection.execute(insert(SESSIONS), row)
        return secret

    def find(self, secret: str) -> OpenSession | None:
        """Return the session of a secret; None if it was ended, or its account closed."""
        found = self._found(SESSIONS.c.id == id_of(secret))
        return found[0] if found else None

    def open_of(self, name: str) -> list[OpenSession]:
        """Return the sessions of an account that still count, newest first."""
        return [one for one in self._found(SESSIONS.c.account == name) if not self.over(one)]

    def over(self, session: OpenSession) -> str:
        """Say why a session is over by its age; empty if it is not."""
        age, idle = self._now() - session.started, self._now() - session.last_seen
        if not -_CLOCK_ERROR <= age < self._longest:
            return "reached its longest duration"
        return "was idle" if idle >= self._idle else ""

    def due(self, session: OpenSession) -> bool:
        """Say whether it is time to save that a session is in use."""
        return not timedelta(0) <= self._now() - session.last_seen < SEEN_EVERY

    def seen(self, session: OpenSession) -> None:
        """Save that a session is in use."""
        used = update(SESSIONS).where(SESSIONS.c.id == session.id, SESSIONS.c.ended.is_(None))
        with writing(self._engine) as connection:
            connection.execute(used.values(last_seen=moment_text(self._now())))

    def end(self, session_id: str, how: str, *, of: str) -> bool:
        """End a session of an account; say whether it was open."""
        own = (SESSIONS.c.id == session_id, SESSIONS.c.account == of, SESSIONS.c.ended.is_(None))
        ended = update(SESSIONS).where(*own).values(ended=moment_text(self._now()), how=how)
        with writing(self._engine) as connection:
            return connection.execute(ended).rowcount == 1

    def _found(self, which: ColumnElement[bool]) -> list[OpenSession]:
        asked = (
            select(SESSIONS.c.id, SESSIONS.c.started, SESSIONS.c.last_seen, SESSIONS.c.address, ACCOUNTS)
            .join(ACCOUNTS, ACCOUNTS.c.name == SESSIONS.c.account)
            .where(which, SESSIONS.c.ended.is_(None), ACCOUNTS.c.closed.is_(False))
            .order_by(SESSIONS.c.started.desc())
            .limit(_MOST_SHOWN)
        )
        with reading(self._engine) as connection:
            return [_open_session(row) for row in connection.execute(asked)]


def id_of(secret: str) -> str:
    """Return the hash under which a session is saved; a copy of the table opens no session.

    Examples
    --------
    >>> id_of("a secret of 256 random bits")[:12]
    '847c1612f1a2'
    """
    return sha256(secret.encode()).hexdigest()


def _open_session(row: Row[Any]) -> OpenSession:
    return OpenSession(
        id=row.id,
        known=known_account(row),
        started=datetime.fromisoformat(row.started),
        last_seen=datetime.fromisoformat(row.last_seen),
        address=row.address,
    )
