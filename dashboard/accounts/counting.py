"""Attempts that anybody can repeat, counted instead of written one by one: nobody can flood the trail."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final

from sqlalchemy import delete, func, insert, select, update

from dashboard.accounts.network import network_of
from dashboard.accounts.tables import COUNTED, moment_text

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sqlalchemy import Connection

PERIOD: Final = timedelta(minutes=15)
"""After which counts become lines."""

MOST: Final = 20
"""Pairs of name and address that are counted separately in one period, for each kind of attempt."""

MOST_OF_ALL: Final = 200
"""Of all kinds of attempts, which may differ by what an identity provider says of somebody."""

SOMETHING_ELSE: Final = "did something else without signing in"
"""What is counted of all further kinds."""

OTHERS: Final = "other names and addresses"
"""What the line is about that counts all further ones."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Counted:
    """What somebody did several times who was not signed in.

    Attributes
    ----------
    begun
        Since when it is counted, in UTC.
    what
        Was done.
    who
        What somebody typed as a name; empty for the rest of them.
    address
        Address or IPv6 network; empty for the rest of them.
    attempts
        How often.
    """

    begun: str
    what: str
    who: str
    address: str
    attempts: int

    @property
    def times(self) -> str:
        """Say how often."""
        return f"{self.attempts} attempts" if self.attempts > 1 else "1 attempt"

    @property
    def about(self) -> str:
        """Say what the line is about: nothing more, or the rest of them."""
        return "" if self.who or self.address else OTHERS


def count_attempt(connection: Connection, now: datetime, *, who: str, what: str, address: str) -> None:
    """Count an attempt in the present period."""
    key = {"what": what, "who": who, "address": network_of(address)}
    others = {"who": "", "address": ""}
    if _count_more(connection, key):
        return
    if _how_many(connection) >= MOST_OF_ALL:
        key = others | {"what": SOMETHING_ELSE}
    elif _how_many(connection, what=what) >= MOST:
        key |= others
    if _count_more(connection, key):
        return
    begun = connection.execute(select(func.min(COUNTED.c.begun))).scalar() or moment_text(now)
    connection.execute(insert(COUNTED), key | {"begun": begun, "attempts": 1})


def counted(connection: Connection) -> list[Counted]:
    """Return the counts of the present period."""
    rows = connection.execute(
        select(COUNTED).order_by(COUNTED.c.what, COUNTED.c.attempts.desc(), COUNTED.c.who, COUNTED.c.address)
    )
    return [Counted(**row) for row in rows.mappings()]


def take_counted(connection: Connection, now: datetime) -> list[Counted]:
    """Return the counts of a period that is over, and begin the next; also where the clock was set back."""
    begun = connection.execute(select(func.min(COUNTED.c.begun))).scalar()
    if begun is None or timedelta(0) <= now - datetime.fromisoformat(begun) < PERIOD:
        return []
    taken = counted(connection)
    connection.execute(delete(COUNTED))
    return taken


def lines_of(taken: Iterable[Counted]) -> list[dict[str, str]]:
    """Return the lines that say how often something was done."""
    return [
        {
            "who": one.who,
            "what": f"{one.what}, {one.times} since {one.begun[:16].replace('T', ' ')}",
            "about": one.about,
            "address": one.address,
        }
        for one in taken
    ]


def _how_many(connection: Connection, **which: str) -> int:
    return connection.execute(select(func.count()).select_from(COUNTED).filter_by(**which)).scalar_one()


def _count_more(connection: Connection, key: dict[str, str]) -> bool:
    """Count one more where this is counted already."""
    more = update(COUNTED).filter_by(**key).values(attempts=COUNTED.c.attempts + 1)
    return connection.execute(more).rowcount > 0
