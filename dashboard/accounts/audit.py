"""The audit trail, and the limit on attempts to sign in."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Final

from sqlalchemy import delete, func, insert, select

from correlate.database import reading, writing
from dashboard.accounts.book import plain_name
from dashboard.accounts.tables import FAILURES, TRAIL, moment_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from sqlalchemy import ColumnElement, Engine


WINDOW: Final = timedelta(minutes=15)
"""For how long a failed attempt counts."""

OF_BOTH: Final = 5
"""Failures of one name from one address, after which it is not looked at again for a while."""

OF_ADDRESS: Final = 30
"""Failures from one address, whatever the names."""

OF_NAME: Final = 100
"""Failures of one name from all addresses; more, so that a stranger does not lock its owner out easily."""


class Throttle:
    """Counts failed attempts in the database, so that all programs of a server count together."""

    def __init__(self, engine: Engine, *, now: Callable[[], datetime] = lambda: datetime.now(UTC)) -> None:
        self._engine = engine
        self._now = now

    def wait_s(self, name: str, address: str) -> float:
        """Return for how long no attempt is looked at."""
        by_name, by_address = FAILURES.c.name == plain_name(name), FAILURES.c.address == address
        limits = ((by_name & by_address, OF_BOTH), (by_address, OF_ADDRESS), (by_name, OF_NAME))
        return max(self._wait(which, most) for which, most in limits)

    def failed(self, name: str, address: str) -> None:
        """Count a failed attempt; those that count no more are forgotten."""
        now = self._now()
        row = {"moment": moment_text(now), "name": plain_name(name), "address": address}
        with writing(self._engine) as connection:
            connection.execute(delete(FAILURES).where(FAILURES.c.moment < moment_text(now - WINDOW)))
            connection.execute(insert(FAILURES), row)

    def succeeded(self, name: str, address: str) -> None:
        """Forget the failures of a name from an address."""
        with writing(self._engine) as connection:
            connection.execute(delete(FAILURES).filter_by(name=plain_name(name), address=address))

    def _wait(self, which: ColumnElement[bool], most: int) -> float:
        now = self._now()
        counted = select(FAILURES.c.moment).where(which, FAILURES.c.moment >= moment_text(now - WINDOW))
        newest_that_count = counted.order_by(FAILURES.c.moment.desc()).limit(most).subquery()
        asked = select(func.count(), func.min(newest_that_count.c.moment)).select_from(newest_that_count)
        with reading(self._engine) as connection:
            count, first = connection.execute(asked).one()
        if count < most:
            return 0.0
        return max(0.0, (datetime.fromisoformat(first) + WINDOW - now).total_seconds())


LONGEST: Final = 300
"""Characters of a text of an entry; a name somebody made up is cut there."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """One line of the trail.

    Attributes
    ----------
    moment
        In UTC.
    who
        Name of the account, or what somebody typed as one.
    what
        Was done.
    about
        Which thing it was done to.
    address
        Of the browser in the network; empty at the machine itself.
    """

    moment: str
    who: str
    what: str
    about: str
    address: str


class AuditTrail:
    """Adds lines and gives them back. There is no way to change one."""

    def __init__(self, engine: Engine, *, now: Callable[[], datetime] = lambda: datetime.now(UTC)) -> None:
        self._engine = engine
        self._now = now

    def add(self, *, who: str, what: str, about: str = "", address: str = "") -> None:
        """Add a line."""
        texts = {"who": who, "what": what, "about": about, "address": address}
        row = {"moment": moment_text(self._now())} | {key: _kept(text) for key, text in texts.items()}
        with writing(self._engine) as connection:
            connection.execute(insert(TRAIL), row)

    def last(self, most: int, *, who: str = "") -> list[Entry]:
        """Return the newest lines, oldest of them first."""
        columns = [TRAIL.c[name] for name in Entry.__dataclass_fields__]
        newest = select(*columns).order_by(TRAIL.c.id.desc()).limit(most)
        if who:
            newest = newest.where(TRAIL.c.who == who)
        with reading(self._engine) as connection:
            rows = connection.execute(newest).mappings().all()
        return [Entry(**row) for row in reversed(rows)]


def _kept(text: str) -> str:
    """Cut a text; no database likes the null character."""
    return text.replace("\0", "")[:LONGEST]
