"""Browsers in which an account signed in before.

They have an allowance of their own in the limit on attempts, so that strangers who guess do not lock the
owner of an account out. The database holds hashes of their marks only.
"""

from __future__ import annotations

import hashlib
import secrets
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Final

from sqlalchemy import delete, insert, select, update

from correlate.database import reading, writing
from dashboard.accounts.book import plain_name
from dashboard.accounts.tables import KNOWN_DEVICES, moment_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from sqlalchemy import Connection, Engine

UNSEEN: Final = timedelta(days=180)
"""After which a browser is no longer known."""

MOST: Final = 20
"""Known browsers of one account; beyond that, the one unused for longest is forgotten."""


class KnownDevices:
    """Remembers and recognizes browsers."""

    def __init__(self, engine: Engine, *, now: Callable[[], datetime] = lambda: datetime.now(UTC)) -> None:
        self._engine = engine
        self._now = now

    def recognized(self, name: str, mark: str) -> str:
        """Return the hash of a mark, if an account knows it; else an empty text."""
        hashed = mark_hash(mark)
        wanted = select(KNOWN_DEVICES.c.mark_hash).where(
            KNOWN_DEVICES.c.account == plain_name(name),
            KNOWN_DEVICES.c.mark_hash == hashed,
            KNOWN_DEVICES.c.last_seen >= moment_text(self._now() - UNSEEN),
        )
        with reading(self._engine) as connection:
            return connection.execute(wanted).scalar() or ""

    def remember(self, name: str, mark: str) -> str:
        """Remember a browser in which an account signed in.

        Parameters
        ----------
        name
            Of the account.
        mark
            That the browser showed; empty for none.

        Returns
        -------
        str
            The mark that the browser must show from now on: the same if the account knows it. Another account
            that knows the browser knows it by the new mark.
        """
        account, now = plain_name(name), moment_text(self._now())
        with writing(self._engine) as connection:
            seen = update(KNOWN_DEVICES).filter_by(account=account, mark_hash=mark_hash(mark))
            if mark and connection.execute(seen.values(last_seen=now)).rowcount:
                return mark
            # A mark that somebody planted in this browser must not be shared with this account.
            new = secrets.token_urlsafe(32)
            if mark:
                of_others = update(KNOWN_DEVICES).filter_by(mark_hash=mark_hash(mark))
                connection.execute(of_others.values(mark_hash=mark_hash(new)))
            row = {"account": account, "mark_hash": mark_hash(new), "last_seen": now}
            connection.execute(insert(KNOWN_DEVICES), row)
            _forget_oldest(connection, account, moment_text(self._now() - UNSEEN))
        return new


def mark_hash(mark: str) -> str:
    """Return what is saved of a mark. It is random and long, so that one round is enough."""
    return hashlib.sha256(mark.encode()).hexdigest()


def _forget_oldest(connection: Connection, account: str, unseen: str) -> None:
    of_account = KNOWN_DEVICES.c.account == account
    newest_first = select(KNOWN_DEVICES.c.mark_hash).where(of_account, KNOWN_DEVICES.c.last_seen >= unseen)
    kept = newest_first.order_by(KNOWN_DEVICES.c.last_seen.desc(), KNOWN_DEVICES.c.mark_hash).limit(MOST)
    marks = connection.execute(kept).scalars().all()
    connection.execute(delete(KNOWN_DEVICES).where(of_account, KNOWN_DEVICES.c.mark_hash.not_in(marks)))
