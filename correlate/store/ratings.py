"""Keeps ratings and gives them back, a chunk at a time."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from itertools import islice
from typing import TYPE_CHECKING, Any, Final, TypeVar

from sqlalchemy import Table, exists, func, select

from correlate.database import writing
from correlate.store import aggregates
from correlate.store.evidence import evidence_row
from correlate.store.rows import ChunkRows, RunInfo, record_of
from correlate.store.tables import BLOCKS, ENTRIES, EVIDENCE, INPUTS, NAMES, PRESENT, RATINGS, RUNS, SETTINGS

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from datetime import datetime

    from sqlalchemy import Connection, Engine, Select

    from correlate.evaluation.evidence import CaseEvidence
    from correlate.evaluation.record import PairRecord
    from correlate.store.tables import Bound

CHUNK: Final = 500
"""Ratings in one transaction, keys in one question."""

_CACHE_KIB: Final = 64 * 1024
"""Page cache of an SQLite store while blocks are saved. Chosen for this program."""

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
        with writing(engine) as connection:
            rows = ChunkRows.of(chunk)
            run_id = _run_id(connection, run)
            blocks: dict[aggregates.Block, set[str]] = {}
            for campaign, release, load_case, channel, _ in rows.entries:
                blocks.setdefault((campaign, release, load_case), set()).add(channel)
            aggregates.lock(connection, blocks)
            _write(connection, rows, run_id)
            for block, channels in blocks.items():
                aggregates.ratings_saved(connection, block, channels, run_id)


@dataclass(frozen=True, slots=True)
class BlockRows:
    """Rows of a block, made where it was rated.

    Attributes
    ----------
    block
        Its names.
    rows
        Of its new ratings.
    evidence
        Row of its evidence.
    derived
        What is derived from these, if the block has no other ratings.
    """

    block: aggregates.Block
    rows: ChunkRows
    evidence: Bound
    derived: aggregates.Derived

    @classmethod
    def of(cls, records: Iterable[PairRecord], evidence: CaseEvidence) -> BlockRows:
        """Check the records of a block, and make the rows."""
        # Of two records of one pair the later counts.
        by_pair = {(one.channel, one.repeat): one for one in records}
        block = (evidence.campaign, evidence.release, evidence.load_case)
        rows = ChunkRows.of(by_pair.values())
        return cls(block, rows, evidence_row(evidence), aggregates.Derived.of(by_pair.values(), evidence))


def keep_blocks(engine: Engine, blocks: Sequence[BlockRows], run: RunInfo) -> None:
    """Write blocks with their evidence in one transaction. See `Store.keep_block`."""
    if not blocks:
        return
    together = ChunkRows()
    for one in blocks:
        together.add(one.rows)
    with writing(engine) as connection:
        if connection.dialect.name == "sqlite":
            # Rows with random keys change most pages of two indexes, which need a larger cache than usual.
            connection.exec_driver_sql(f"PRAGMA cache_size = -{_CACHE_KIB}")
        run_id = _run_id(connection, run) if together.entries else 0
        aggregates.lock(connection, [one.block for one in blocks])
        all_new = _write(connection, together, run_id)
        aggregates.replace(connection, EVIDENCE, [one.evidence for one in blocks])
        rated = {one.block: one for one in blocks if one.rows.entries}
        if rated:
            derived = {block: one.derived for block, one in rated.items()}
            pairs = sum(len(one.rows.entries) for one in rated.values())
            aggregates.blocks_saved(connection, derived, run_id, pairs=pairs, all_new=all_new)
        for one in blocks:
            if not one.rows.entries:
                aggregates.evidence_saved(connection, one.block)


def _write(connection: Connection, rows: ChunkRows, run_id: int) -> bool:
    """Write rows; return whether none of the ratings was there.

    Several writers may save the same rows: all write tables, blocks and hashes in the same order, so that
    they cannot deadlock.
    """
    aggregates.write(connection, SETTINGS, _in_order(rows.settings))
    aggregates.write(connection, INPUTS, _in_order(rows.inputs))
    new = aggregates.write(connection, RATINGS, _in_order(rows.ratings))
    # The run comes first in an entry.
    entries = [(run_id, *row[1:]) for row in rows.entries.values()]
    aggregates.write(connection, ENTRIES, entries, instead_of=("run_id", *NAMES))
    return new == len(rows.ratings)


def _in_order(rows: dict[bytes, Bound]) -> list[Bound]:
    return [rows[key] for key in sorted(rows)]


def _run_id(connection: Connection, run: RunInfo) -> int:
    row = {name: getattr(run, name) for name in RunInfo.__dataclass_fields__}
    connection.execute(aggregates.insert(connection, RUNS).on_conflict_do_nothing(), row)
    # The lock makes writers of one run take turns: their entries may be the same.
    found = select(RUNS.c.id).filter_by(**row).with_for_update(key_share=True)
    return int(connection.execute(found).scalar_one())


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


def ratings(connection: Connection, **only: str | None) -> Iterator[PairRecord]:
    """Yield the present rating of every pair. See `Store.ratings`."""
    return _records(connection, _latest(**only), _Contents(connection))


def ratings_sha256(connection: Connection, campaign: str, release: str) -> str | None:
    """Return the hash of which pair of a release has which rating, None when none is rated."""
    entries = select(*_PAIR, ENTRIES.c.rating_key).where(
        ENTRIES.c.id.in_(_latest(campaign=campaign, release=release))
    )
    # Sorted here, because each database sorts text in its own way.
    lines = sorted(tuple(row) for row in connection.execute(entries))
    return hashlib.sha256(json.dumps(lines).encode()).hexdigest() if lines else None


def campaigns(connection: Connection) -> list[str]:
    """Return the campaigns that have ratings. See `Store.campaigns`."""
    first = func.min(BLOCKS.c.first_entry)
    rated = select(BLOCKS.c.campaign).where(BLOCKS.c.pairs > 0)
    return list(connection.execute(rated.group_by(BLOCKS.c.campaign).order_by(first)).scalars())


def releases(connection: Connection, campaign: str) -> list[RatedRelease]:
    """Return the rated releases of a campaign. See `Store.releases`."""
    first, last = RUNS.alias(), RUNS.alias()
    statement = (
        select(
            BLOCKS.c.release.label("name"),
            func.sum(BLOCKS.c.pairs).label("pairs"),
            func.min(first.c.started).label("first_rated"),
            func.max(last.c.started).label("last_rated"),
        )
        .join(first, BLOCKS.c.first_run == first.c.id)
        .join(last, BLOCKS.c.last_run == last.c.id)
        .where(BLOCKS.c.campaign == campaign)
        .group_by(BLOCKS.c.release)
        .order_by(func.min(BLOCKS.c.first_entry))
    )
    return [RatedRelease(**row) for row in connection.execute(statement).mappings()]


def last_run(connection: Connection, campaign: str) -> RunInfo | None:
    """Return the last run over a campaign. See `Store.last_run`."""
    of_campaign = select(BLOCKS.c.last_run).where(BLOCKS.c.campaign == campaign)
    columns = [RUNS.c[name] for name in RunInfo.__dataclass_fields__]
    statement = select(*columns).where(RUNS.c.id.in_(of_campaign))
    latest = statement.order_by(RUNS.c.started.desc(), RUNS.c.id.desc()).limit(1)
    found = connection.execute(latest).mappings().one_or_none()
    return None if found is None else RunInfo(**found)


def runs(connection: Connection, campaign: str) -> list[RunInfo]:
    """Return the runs over a campaign. See `Store.runs`."""
    # One index lookup for every run; a list of the runs of all entries would read all entries.
    of_campaign = exists().where(ENTRIES.c.run_id == RUNS.c.id, ENTRIES.c.campaign == campaign)
    columns = [RUNS.c[name] for name in RunInfo.__dataclass_fields__]
    statement = select(*columns).where(of_campaign).order_by(RUNS.c.started, RUNS.c.id)
    return [RunInfo(**row) for row in connection.execute(statement).mappings()]


def _latest(**only: str | None) -> Select[tuple[int]]:
    """Select the last entry of every pair with the given names."""
    wanted = (PRESENT.c[name] == value for name, value in only.items() if value is not None)
    return select(PRESENT.c.entry_id).where(*wanted)


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
