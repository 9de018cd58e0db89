"""What people say about ratings: notes, and sign-offs of a release."""

from __future__ import annotations

from dataclasses import asdict, dataclass, fields, replace
from datetime import UTC, date, datetime
from typing import TYPE_CHECKING, Any, TypeVar

from sqlalchemy import Connection, Table, insert, select

from correlate.display import short_repr
from correlate.errors import StoreError
from correlate.store.rows import storable
from correlate.store.tables import NOTES, SIGN_OFFS

if TYPE_CHECKING:
    from collections.abc import Iterable


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Note:
    """A remark on a campaign, or on a part of it.

    Attributes
    ----------
    campaign, release, load_case, channel
        What it speaks of; an empty name stands for all of them.
    text
        The remark.
    who
        Wrote it.
    entered
        When, in UTC.
    """

    campaign: str
    release: str
    load_case: str
    channel: str
    text: str
    who: str
    entered: datetime


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class SignOff:
    """Somebody answers for a release.

    A sign-off informs; it does not certify: see the cautions in the documentation.

    Attributes
    ----------
    campaign, release
        What is signed.
    role
        In which the signer answers, for instance lab, analyst or manager.
    date
        The signer gave.
    text
        Remark of the signer.
    who
        Entered it.
    entered
        When, in UTC.
    ratings_sha256
        Hash of the ratings that were signed; another hash today means that the release was rated again.
    scope
        What the release may be used for; empty for everything the campaign covers.
    inputs_sha256
        Hash of tests, results and settings at that time; empty where it was not recorded.
    """

    campaign: str
    release: str
    role: str
    date: date
    text: str
    who: str
    entered: datetime
    ratings_sha256: str
    scope: str = ""
    inputs_sha256: str = ""


Remark = TypeVar("Remark", Note, SignOff)


def add_note(connection: Connection, **words: str) -> Note:
    """Write a note. See `Store.add_note`."""
    _check("note", words, required=("campaign", "text", "who"))
    note = Note(**words, entered=datetime.now(UTC))
    connection.execute(insert(NOTES).values(**asdict(note)))
    return note


def sign_off(connection: Connection, *, day: date, ratings_sha256: str, **words: str) -> SignOff:
    """Write a sign-off, unless the last one in this role says the same. See `Store.sign_off`."""
    _check("sign-off", words, required=("campaign", "release", "role", "who"))
    entry = SignOff(**words, date=day, entered=datetime.now(UTC), ratings_sha256=ratings_sha256)
    present = read(connection, SignOff, entry.campaign, entry.release)
    last = next((one for one in reversed(present) if one.role == entry.role), None)
    if last is not None and replace(last, entered=entry.entered) == entry:
        # A command that was killed after it had saved this is given again.
        return last
    connection.execute(insert(SIGN_OFFS).values(**asdict(entry)))
    return entry


def read(
    connection: Connection, kind: type[Remark], campaign: str | None, release: str | None
) -> list[Remark]:
    """Return notes or sign-offs, oldest first. See `Store.notes` and `Store.sign_offs`."""
    table: Table = NOTES if kind is Note else SIGN_OFFS
    statement = select(*(table.c[field.name] for field in fields(kind))).order_by(table.c.id)
    for column, name in ((table.c.campaign, campaign), (table.c.release, release)):
        if name is not None:
            statement = statement.where(column == name)
    return [kind(**row) for row in connection.execute(statement).mappings()]


def _check(word: str, words: dict[str, Any], required: Iterable[str]) -> None:
    for name in required:
        if not words[name].strip():
            raise StoreError(f"the {word} has no {name}", remedy="give one")
    for name, value in words.items():
        if not storable(value):
            raise StoreError(
                f"the {name} {value!a} of the {word} is not text that can be stored", remedy="type it again"
            )
