"""Throttling of password guesses."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING, Final

from sqlalchemy import delete, func, insert, select

from correlate.database import reading, writing
from dashboard.accounts.book import plain_name
from dashboard.accounts.tables import FAILURES, moment_text

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
    """Counts failed attempts in the database, so that all programs of a server count together.

    Parameters
    ----------
    engine
        Of `open_accounts`.
    now
        Tells the time.
    """

    def __init__(self, engine: Engine, *, now: Callable[[], datetime] = lambda: datetime.now(UTC)) -> None:
        self._engine = engine
        self._now = now

    def wait_s(self, name: str, address: str) -> float:
        """Return for how long no attempt is looked at.

        Parameters
        ----------
        name
            Of the account, as typed.
        address
            Of the browser in the network.

        Returns
        -------
        float
            In seconds; 0 where an attempt may be made.
        """
        by_name, by_address = FAILURES.c.name == plain_name(name), FAILURES.c.address == address
        limits = ((by_name & by_address, OF_BOTH), (by_address, OF_ADDRESS), (by_name, OF_NAME))
        return max(self._wait(which, most) for which, most in limits)

    def failed(self, name: str, address: str) -> None:
        """Count a failed attempt; those that count no more are forgotten.

        Parameters
        ----------
        name
            Of the account, as typed.
        address
            Of the browser in the network.
        """
        now = self._now()
        row = {"moment": moment_text(now), "name": plain_name(name), "address": address}
        with writing(self._engine) as connection:
            connection.execute(delete(FAILURES).where(FAILURES.c.moment < moment_text(now - WINDOW)))
            connection.execute(insert(FAILURES), row)

    def succeeded(self, name: str, address: str) -> None:
        """Forget the failures of a name from an address.

        Parameters
        ----------
        name
            Of the account, as typed.
        address
            Of the browser in the network.
        """
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
