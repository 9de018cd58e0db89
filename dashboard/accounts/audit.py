"""The audit trail."""

from __future__ import annotations

from contextlib import contextmanager
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Final

from sqlalchemy import insert, select

from correlate.database import reading, writing
from dashboard.accounts.chain import BEGINNING, HASHED, ChainState, check_chain, entry_hash
from dashboard.accounts.counting import Counted, count_attempt, counted, lines_of, take_counted
from dashboard.accounts.tables import TRAIL, moment_text, one_at_a_time

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from sqlalchemy import Connection, Engine

LONGEST: Final = 300
"""Characters of a text of an entry; a name somebody made up is cut there."""

_PAGE: Final = 2000
"""Entries that are read at a time."""


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
    """Adds lines and returns them. There is no way to change one."""

    def __init__(self, engine: Engine, *, now: Callable[[], datetime] = lambda: datetime.now(UTC)) -> None:
        self._engine = engine
        self._now = now

    def add(self, *, who: str, what: str, about: str = "", address: str = "") -> None:
        """Add a line."""
        with self._writing() as connection:
            self._append(connection, {"who": who, "what": what, "about": about, "address": address})

    def count(self, *, who: str, what: str, address: str) -> None:
        """Count what somebody did who is not signed in; every quarter of an hour the counts become lines."""
        texts = {key: _kept(text) for key, text in {"who": who, "what": what, "address": address}.items()}
        with self._writing() as connection:
            count_attempt(connection, self._now(), **texts)

    def settle(self) -> None:
        """Write the lines of counts whose time is over."""
        with self._writing():
            pass

    def counted(self) -> list[Counted]:
        """Return the counts that are not yet lines."""
        with reading(self._engine) as connection:
            return counted(connection)

    def last(self, most: int, *, who: str = "") -> list[Entry]:
        """Return the newest lines, oldest of them first."""
        columns = [TRAIL.c[name] for name in Entry.__dataclass_fields__]
        newest = select(*columns).order_by(TRAIL.c.id.desc()).limit(most)
        if who:
            newest = newest.where(TRAIL.c.who == who)
        with reading(self._engine) as connection:
            rows = connection.execute(newest).mappings().all()
        return [Entry(**row) for row in reversed(rows)]

    def check(self, *, most: int | None = None) -> ChainState:
        """Compare the hashes of the trail, or of its newest lines, with its contents."""
        with reading(self._engine) as connection:
            before = 0 if most is None else _number_before(connection, most)
            previous = connection.execute(select(TRAIL.c.hash).where(TRAIL.c.id == before)).scalar()
            return check_chain(_rows(connection, before), previous=previous or BEGINNING)

    def rows(self) -> Iterator[dict[str, Any]]:
        """Return every line with its number, its hash and the hash before, as it is exported."""
        previous = BEGINNING
        with reading(self._engine) as connection:
            for row in _rows(connection, 0):
                yield row | {"previous": previous}
                previous = row["hash"]

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        """Open a transaction in which nobody else writes to the trail, and write the counts that are due."""
        with writing(self._engine) as connection:
            one_at_a_time(connection, TRAIL)
            for line in lines_of(take_counted(connection, self._now())):
                self._append(connection, line)
            yield connection

    def _append(self, connection: Connection, texts: dict[str, str]) -> None:
        newest = select(TRAIL.c.id, TRAIL.c.hash).order_by(TRAIL.c.id.desc()).limit(1)
        number, previous = connection.execute(newest).one_or_none() or (0, BEGINNING)
        row: dict[str, Any] = {"id": number + 1, "moment": moment_text(self._now())}
        row |= {key: _kept(text) for key, text in texts.items()}
        connection.execute(insert(TRAIL), row | {"hash": entry_hash(row, previous)})


def _number_before(connection: Connection, most: int) -> int:
    """Return the number of the line before the newest ones; 0 where there are no more."""
    beyond = select(TRAIL.c.id).order_by(TRAIL.c.id.desc()).offset(most).limit(1)
    return connection.execute(beyond).scalar() or 0


def _rows(connection: Connection, after: int) -> Iterator[dict[str, Any]]:
    """Return lines in their order, a page at a time: a trail may not fit into memory."""
    columns = [TRAIL.c[name] for name in (*HASHED, "hash")]
    while True:
        wanted = select(*columns).where(TRAIL.c.id > after).order_by(TRAIL.c.id).limit(_PAGE)
        page = [dict(row) for row in connection.execute(wanted).mappings()]
        yield from page
        if len(page) < _PAGE:
            return
        after = page[-1]["id"]


def _kept(text: str) -> str:
    """Cut a text; no database likes the null character."""
    return text.replace("\0", "")[:LONGEST]
