"""The limit on sign-in attempts."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import TYPE_CHECKING, Final

from sqlalchemy import and_, delete, insert, or_, select, update

from correlate.database import writing
from dashboard.accounts.book import plain_name
from dashboard.accounts.clock import Instant, present
from dashboard.accounts.network import network_of
from dashboard.accounts.tables import FAILURES, moment_text, one_at_a_time

if TYPE_CHECKING:
    from collections.abc import Callable

    from sqlalchemy import ColumnElement, Connection, Engine

WINDOW: Final = timedelta(minutes=15)
"""For how long a failed attempt counts."""

OF_BOTH: Final = 5
"""Failures of one name from one network, after which further attempts are refused for a while."""

OF_NETWORK: Final = 30
"""Failures from one network, whatever the names."""

OF_NAME: Final = 100
"""Failures of one name from all networks; higher, so that others cannot easily lock the owner out."""

OF_DEVICE: Final = 5
"""Failures in one browser in which the account signed in before; it is not subject to the other limits."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Attempt:
    """An attempt, counted before it is checked.

    Attributes
    ----------
    number
        Of its row; None if it is refused.
    wait_s
        Seconds until the next attempt is accepted; 0 if this one is accepted.
    name, network, device
        Whom it counts for.
    """

    number: int | None
    wait_s: float
    name: str
    network: str
    device: str


class Throttle:
    """Counts attempts in the database, so that all programs of a server count together.

    An attempt counts as failed from its beginning until somebody says otherwise: attempts that are made at
    the same time cannot pass together.
    """

    def __init__(self, engine: Engine, *, now: Callable[[], Instant] = present) -> None:
        self._engine = engine
        self._now = now

    def begin(self, name: str, address: str, *, device: str = "") -> Attempt:
        """Count an attempt, unless there were too many.

        Parameters
        ----------
        name, address
            What somebody typed, and where from.
        device
            Mark of a browser that the account of this name knows; empty for any other.
        """
        known_as, network, now = plain_name(name), network_of(address), self._now()
        with writing(self._engine) as connection:
            one_at_a_time(connection, FAILURES)
            _forget_old(connection, now)
            _clamp_future(connection, now)
            wait_s = _wait_s(_ages(connection, known_as, network, device, now))
            number = None if wait_s else _insert(connection, known_as, network, device, now)
        return Attempt(number=number, wait_s=wait_s, name=known_as, network=network, device=device)

    def give_back(self, attempt: Attempt) -> None:
        """Take back one attempt that was right, if another step follows; other attempts still count."""
        with writing(self._engine) as connection:
            connection.execute(delete(FAILURES).where(FAILURES.c.id == attempt.number))

    def succeeded(self, attempt: Attempt) -> None:
        """Forget the failures of a name from a network and in its browser."""
        same = and_(FAILURES.c.name == attempt.name, FAILURES.c.address == attempt.network)
        with writing(self._engine) as connection:
            connection.execute(delete(FAILURES).where(same, FAILURES.c.device.in_(["", attempt.device])))


def _forget_old(connection: Connection, now: Instant) -> None:
    seconds = WINDOW.total_seconds()
    old_here = and_(FAILURES.c.boot == now.boot, FAILURES.c.ticks < now.ticks - seconds)
    old_elsewhere = and_(FAILURES.c.boot != now.boot, FAILURES.c.moment < moment_text(now.moment - WINDOW))
    connection.execute(delete(FAILURES).where(or_(old_here, old_elsewhere)))


def _clamp_future(connection: Connection, now: Instant) -> None:
    """Let no attempt have been made later than now: a clock that was set back would make a lockout longer."""
    moment = moment_text(now.moment)
    of_here, of_elsewhere = FAILURES.c.boot == now.boot, FAILURES.c.boot != now.boot
    changed = update(FAILURES)
    connection.execute(changed.where(of_here, FAILURES.c.ticks > now.ticks).values(ticks=now.ticks))
    connection.execute(changed.where(of_elsewhere, FAILURES.c.moment > moment).values(moment=moment))


def _ages(
    connection: Connection, name: str, network: str, device: str, now: Instant
) -> list[tuple[int, list[float]]]:
    """Return for each limit how many failures it allows, and how old the present ones are, in seconds."""
    by_name, by_network = FAILURES.c.name == name, FAILURES.c.address == network
    limits: list[tuple[ColumnElement[bool], int]] = (
        [(and_(by_name, FAILURES.c.device == device), OF_DEVICE)]
        if device
        else [
            (and_(by_name, by_network, FAILURES.c.device == ""), OF_BOTH),
            (and_(by_network, FAILURES.c.device == ""), OF_NETWORK),
            (and_(by_name, FAILURES.c.device == ""), OF_NAME),
        ]
    )
    columns = (FAILURES.c.moment, FAILURES.c.ticks, FAILURES.c.boot)
    return [
        (most, sorted(_age_s(*row, now) for row in connection.execute(select(*columns).where(which))))
        for which, most in limits
    ]


def _age_s(moment: str, ticks: float, boot: str, now: Instant) -> float:
    if boot == now.boot:
        return now.ticks - ticks
    return (now.moment - datetime.fromisoformat(moment)).total_seconds()


def _wait_s(ages: list[tuple[int, list[float]]]) -> float:
    """Return until when the newest failures that a limit allows are still all counted."""
    seconds = WINDOW.total_seconds()
    return max(0.0 if len(found) < most else max(0.0, seconds - found[most - 1]) for most, found in ages)


def _insert(connection: Connection, name: str, network: str, device: str, now: Instant) -> int:
    row = {
        "moment": moment_text(now.moment),
        "ticks": now.ticks,
        "boot": now.boot,
        "name": name,
        "address": network,
        "device": device,
    }
    return int(connection.execute(insert(FAILURES).values(row).returning(FAILURES.c.id)).scalar_one())
