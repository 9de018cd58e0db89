"""The audit trail."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Final

from sqlalchemy import insert, select

from correlate.database import reading, writing
from dashboard.accounts.tables import TRAIL, moment_text

if TYPE_CHECKING:
    from collections.abc import Callable

    from sqlalchemy import Engine


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
