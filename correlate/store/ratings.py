"""Keeps ratings and gives them back, a chunk at a time."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Any, Final, TypeVar

from sqlalchemy import Table, func, select
from sqlalchemy.dialects import postgresql, sqlite

from correlate.database import writing
from correlate.store.rows import ChunkRows, Row, RunInfo, record_of
from correlate.store.tables import ENTRIES, INPUTS, NAMES, RATINGS, RUNS, SETTINGS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from datetime import datetime

    from sqlalchemy import ColumnElement, Connection, Engine, Select

    from correlate.evaluation.record import PairRecord

CHUNK: Final = 500
"""Ratings in one transaction, keys in one question."""

_PAIR: Final = tuple(ENTRIES.c[name] for name in NAMES)

Item = TypeVar("Item")


@dataclass(frozen=True, slots=True, kw_only=True)
class RatedRelease:
    """A release of which the store holds ratings.

    Attributes
    ----------
    name
        Of the release.
    pairs
        How many pairs are rated.
    first_rated, last_rated
        Start of the first and of the last run.
    """

    name: str
    pairs: int
    first_rated: datetime
    last_rated: datetime


def chunks(items: Iterable[Item]) -> Iterator[list[Item]]:
    """Cut an iterable into lists without reading ahead."""
    iterator = iter(items)
    while chunk := list(islice(iterator, CHUNK)):
        yield chunk


def keep(engine: Engine, records: Iterable[PairRecord], run: RunInfo) -> None:
    """Write records, one transaction a chunk. See `Store.keep`."""
    for chunk in chunks(records):
        insert(engine, ChunkRows.of(chunk), run)


def insert(engine: Engine, rows: ChunkRows, run: RunInfo) -> None:
    """Write the rows of some records in one transaction."""
    if not rows.entries:
        return
    with writing(engine) as connection:
        run_id = _run_id(connection, run)
        # Several writers may keep the same rows: all go through tables and hashes in one order, so that
        # none waits for a row of another that waits for one of its own.
        _insert_new(connection, SETTINGS, _contents(rows.settings))
        _insert_new(connection, INPUTS, _contents(rows.inputs))
        _insert_new(connection, RATINGS, [rows.ratings[key] for key in sorted(rows.ratings)])
        _insert_or_replace(connection, [{"run_id": run_id, **row} for row in rows.entries.values()])


def _contents(table: dict[str, str]) -> list[Row]:
    return [{"hash": name, "content": table[name]} for name in sorted(table)]


def _run_id(connection: Connection, run: RunInfo) -> int:
    row = {name: getattr(run, name) for name in RunInfo.__dataclass_fields__}
    _insert_new(connection, RUNS, [row])
    # The lock makes writers of one run take turns: their entries may be the same.
    found = select(RUNS.c.id).filter_by(**row).with_for_update(key_share=True)
    return int(connection.execute(found).scalar_one())


def _insert(connection: Connection, table: Table) -> sqlite.Insert | postgresql.Insert:
    return postgresql.insert(table) if connection.dialect.name == "postgresql" else sqlite.insert(table)


def _insert_new(connection: Connection, table: Table, rows: list[Row]) -> None:
    connection.execute(_insert(connection, table).on_conflict_do_nothing(), rows)


def _insert_or_replace(connection: Connection, rows: list[Row]) -> None:
    insert = _insert(connection, ENTRIES)
    given = {name: insert.excluded[name] for name in ("rating_key", "reference_hash", "candidate_hash")}
    key = [ENTRIES.c.run_id, *_PAIR]
    connection.execute(insert.on_conflict_do_update(index_elements=key, set_=given), rows)


def known(connection: Connection, keys: Iterable[str]) -> Iterator[PairRecord]:
    """Yield the ratings that have one of the keys. See `Store.known`."""
    contents = _Contents(connection)
    for chunk in chunks(keys):
        latest = (
            select(func.max(ENTRIES.c.id))
            .where(ENTRIES.c.rating_key.in_(chunk))
            .group_by(ENTRIES.c.rating_key)
        )
        yield from _records(connection, latest, contents)


def ratings(connection: Connection, campaign: str | None, release: str | None) -> Iterator[PairRecord]:
    """Yield the present rating of every pair. See `Store.ratings`."""
    latest = _latest(campaign, release)
    return _records(connection, latest, _Contents(connection))


def ratings_sha256(connection: Connection, campaign: str, release: str) -> str | None:
    """Return the hash of which pair of a release has which rating, None when none is rated."""
    entries = select(*_PAIR, ENTRIES.c.rating_key).where(ENTRIES.c.id.in_(_latest(campaign, release)))
    # Sorted here, because each database sorts text in its own way.
    lines = sorted(tuple(row) for row in connection.execute(entries))
    return hashlib.sha256(json.dumps(lines).encode()).hexdigest() if lines else None


def campaigns(connection: Connection) -> list[str]:
    """Return the campaigns that have ratings. See `Store.campaigns`."""
    statement = select(ENTRIES.c.campaign).group_by(ENTRIES.c.campaign).order_by(func.min(ENTRIES.c.id))
    return list(connection.execute(statement).scalars())


def releases(connection: Connection, campaign: str) -> list[RatedRelease]:
    """Return the rated releases of a campaign. See `Store.releases`."""
    present = ENTRIES.c.id.in_(_latest(campaign, None))
    statement = (
        select(
            ENTRIES.c.release.label("name"),
            func.count().filter(present).label("pairs"),
            func.min(RUNS.c.started).label("first_rated"),
            func.max(RUNS.c.started).label("last_rated"),
        )
        .join(RUNS, ENTRIES.c.run_id == RUNS.c.id)
        .where(ENTRIES.c.campaign == campaign)
        .group_by(ENTRIES.c.release)
        .order_by(func.min(ENTRIES.c.id))
    )
    return [RatedRelease(**row) for row in connection.execute(statement).mappings()]


def runs(connection: Connection, campaign: str) -> list[RunInfo]:
    """Return the runs over a campaign. See `Store.runs`."""
    of_campaign = select(ENTRIES.c.run_id).where(ENTRIES.c.campaign == campaign)
    columns = [RUNS.c[name] for name in RunInfo.__dataclass_fields__]
    statement = select(*columns).where(RUNS.c.id.in_(of_campaign)).order_by(RUNS.c.started, RUNS.c.id)
    return [RunInfo(**row) for row in connection.execute(statement).mappings()]


def _latest(campaign: str | None, release: str | None) -> Select[tuple[int]]:
    """Select the last entry of every pair."""
    wanted: list[ColumnElement[bool]] = []
    if campaign is not None:
        wanted.append(ENTRIES.c.campaign == campaign)
    if release is not None:
        wanted.append(ENTRIES.c.release == release)
    return select(func.max(ENTRIES.c.id)).where(*wanted).group_by(*_PAIR)


def _records(
    connection: Connection, entries: Select[tuple[int]], contents: _Contents
) -> Iterator[PairRecord]:
    statement = (
        select(ENTRIES, *(column for column in RATINGS.c if column.name != "key"))
        .join(RATINGS, ENTRIES.c.rating_key == RATINGS.c.key)
        .where(ENTRIES.c.id.in_(entries))
        .order_by(ENTRIES.c.id)
    )
    for rows in connection.execute(statement).mappings().partitions(CHUNK):
        settings = contents.by_hash(SETTINGS, {row["settings_hash"] for row in rows})
        hashes = {row[f"{side}_hash"] for row in rows for side in ("reference", "candidate")}
        inputs = contents.by_hash(INPUTS, hashes)
        for row in rows:
            yield record_of(row, settings, inputs)


class _Contents:
    """Settings and inputs read once per question, although many ratings share them."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._read: dict[str, dict[str, Any]] = {SETTINGS.name: {}, INPUTS.name: {}}

    def by_hash(self, table: Table, hashes: set[str]) -> dict[str, Any]:
        """Return the contents read so far, those with the given hashes among them."""
        read = self._read[table.name]
        for missing in chunks(hashes - read.keys()):
            rows = self._connection.execute(select(table).where(table.c.hash.in_(missing)))
            read.update((row.hash, json.loads(row.content)) for row in rows)
        return read
