"""Reads of every pair only what the numbers of a release are made from, which is quick for many releases."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, NamedTuple

from sqlalchemy import select

from correlate.display import short_repr
from correlate.store.tables import ENTRIES, PRESENT, RATINGS

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping

    from sqlalchemy import ColumnElement, Connection, Select


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class RatedPair:
    """The present rating of a pair, without its inputs and settings.

    Attributes
    ----------
    release, load_case, channel, repeat
        Names.
    overall
        In [0, 1].
    ingredients_text
        Raw values behind the scores, as JSON.
    """

    release: str
    load_case: str
    channel: str
    repeat: str
    overall: float
    ingredients_text: str

    @property
    def ingredients(self) -> dict[str, Any]:
        """Raw values behind the scores, read when they are asked for, which few are."""
        found: dict[str, Any] = json.loads(self.ingredients_text)
        return found


class RatedKey(NamedTuple):
    """Which rating a pair has.

    Attributes
    ----------
    release, load_case, channel, repeat
        Names of the pair.
    key
        Of the rating.
    """

    release: str
    load_case: str
    channel: str
    repeat: str
    key: str


class RatedRepeat(NamedTuple):
    """A repeat that some release was rated with.

    Attributes
    ----------
    load_case, channel, repeat
        Names.
    """

    load_case: str
    channel: str
    repeat: str


def rated_repeats(connection: Connection, campaign: str) -> list[RatedRepeat]:
    """Return the repeats that any release was rated with. See `Store.rated_repeats`."""
    names = (PRESENT.c[name] for name in RatedRepeat._fields)
    statement = select(*names).where(PRESENT.c.campaign == campaign).distinct()
    return [RatedRepeat._make(row) for row in connection.execute(statement)]


def rated_keys(connection: Connection, campaign: str, **only: str) -> list[RatedKey]:
    """Return which rating every pair has. See `Store.rated_keys`."""
    names = (PRESENT.c[name] for name in RatedKey._fields if name != "key")
    statement = _present_ratings(campaign, only, *names, RATINGS.c.key)
    return [RatedKey._make(row) for row in connection.execute(statement)]


def rated_pairs(connection: Connection, campaign: str, **only: str) -> Iterator[RatedPair]:
    """Return the present rating of every pair, one by one. See `Store.rated_pairs`."""
    names = ("release", "load_case", "channel", "repeat")
    text = RATINGS.c.ingredients.label("ingredients_text")
    columns = (*(PRESENT.c[name] for name in names), RATINGS.c.overall, text)
    statement = _present_ratings(campaign, only, *columns).order_by(PRESENT.c.entry_id)
    return (RatedPair(**row) for row in connection.execute(statement).mappings())


def _present_ratings(campaign: str, only: Mapping[str, str], *columns: ColumnElement[Any]) -> Select[Any]:
    """Select columns of the pairs of a campaign that have some names, and of their present ratings."""
    return (
        select(*columns)
        .join(ENTRIES, ENTRIES.c.id == PRESENT.c.entry_id)
        .join(RATINGS, ENTRIES.c.rating_key == RATINGS.c.key)
        .where(PRESENT.c.campaign == campaign, *(PRESENT.c[name] == value for name, value in only.items()))
    )
