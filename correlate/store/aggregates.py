"""The values that results are computed from, saved beside the ratings, so that no page reads every rating.

A block is one load case of one release, as scoring rates it. A function that saves ratings or evidence of a
block locks its row first, and updates present ratings, aggregates and that row in the same transaction.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from functools import cache, lru_cache
from typing import TYPE_CHECKING, Any, Final, NamedTuple

from sqlalchemy import ColumnElement, Table, bindparam, func, select, update
from sqlalchemy.dialects import registry, sqlite

from correlate.campaign.release_evidence import CaseSummary, lacks
from correlate.evaluation.evidence import ChannelEvidence, channels_of_plain
from correlate.store.tables import (
    AGGREGATES,
    BLOCK,
    BLOCKS,
    ENTRIES,
    EVIDENCE,
    NAMES,
    PRESENT,
    RATINGS,
    RUNS,
    written,
)

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

    from sqlalchemy import Connection, RowMapping
    from sqlalchemy.dialects import postgresql

    from correlate.evaluation.evidence import CaseEvidence
    from correlate.evaluation.record import PairRecord
    from correlate.store.rows import Row
    from correlate.store.tables import Bound

    Insert = sqlite.Insert | postgresql.Insert

Block = tuple[str, str, str]
"""Campaign, release and load case."""


def _of_given(table: Table) -> list[ColumnElement[bool]]:
    """Return the condition that a row is of the block in the parameters, which `_given` makes."""
    return [table.c[name] == bindparam(f"of_{name}") for name in BLOCK]


def _given(block: Block) -> Row:
    return {f"of_{name}": value for name, value in zip(BLOCK, block, strict=True)}


# Statements for each block that is saved: making one takes longer than executing it.
_RUNS_OF_BLOCK: Final = select(BLOCKS.c.first_run, BLOCKS.c.last_run).where(*_of_given(BLOCKS))
_FIRST_ENTRY: Final = select(func.min(PRESENT.c.entry_id)).where(*_of_given(PRESENT)).scalar_subquery()
_NOTE_RUNS: Final = (
    update(BLOCKS)
    .where(*_of_given(BLOCKS))
    .values(
        first_run=bindparam("new_first"),
        last_run=bindparam("new_last"),
        first_entry=func.coalesce(BLOCKS.c.first_entry, _FIRST_ENTRY),
    )
)
_PRESENT_PAIRS: Final = select(func.count()).select_from(PRESENT).where(*_of_given(PRESENT))
_BLOCK: Final = update(BLOCKS).where(*_of_given(BLOCKS))


class NumberPair(NamedTuple):
    """A rated pair that counts in a result, with the values that the result needs.

    A named tuple, which is quick to create: there is one for each rating.

    Attributes
    ----------
    release, load_case, channel, repeat
        Names.
    overall
        In [0, 1].
    reference_peak
        Largest absolute value of the reference.
    also
        Values of further measures, by name.
    """

    release: str
    load_case: str
    channel: str
    repeat: str
    overall: float
    reference_peak: float | None
    also: Mapping[str, float | None]

    @property
    def ingredients(self) -> dict[str, Any]:
        """The intermediate values that results need."""
        return {
            "corridor": {"reference_peak": self.reference_peak},
            "also": {name: {"value": value} for name, value in self.also.items()},
        }


@dataclass(frozen=True, slots=True, kw_only=True)
class BlockRow:
    """What is saved of a block.

    Attributes
    ----------
    release, load_case
        Names.
    pairs, counted
        Number of pairs with a rating, and of those that count in a result.
    digest
        Hash of the values that its results are computed from.
    summary
        Summary of its evidence; None if there is none.
    """

    release: str
    load_case: str
    pairs: int
    counted: int
    digest: str
    summary: CaseSummary | None


@dataclass(frozen=True, slots=True)
class Derived:
    """What is derived from a block whose ratings are all new: rows of aggregates, and values of its row."""

    aggregates: Sequence[Bound]
    values: Row

    @classmethod
    def of(cls, records: Iterable[PairRecord], evidence: CaseEvidence) -> Derived:
        """Derive it from the records of every pair of a block, in the order of their entries."""
        pairs = [(one.channel, one.repeat, float(one.overall), one.ingredients) for one in records]
        block = (evidence.campaign, evidence.release, evidence.load_case)
        rows = [*_aggregates(block, pairs, _counted(evidence.channels))]
        return cls(rows, _values([row[len(BLOCK) :] for row in rows], evidence.channels, evidence.state))


def lock(connection: Connection, blocks: Iterable[Block]) -> None:
    """Let writers of the same blocks take turns until the transaction ends; in one order for all."""
    ordered = sorted(set(blocks))
    if not ordered:
        return
    new = insert(connection, BLOCKS).on_conflict_do_nothing()
    connection.execute(new, [dict(zip(BLOCK, block, strict=True)) for block in ordered])
    if connection.dialect.name == "postgresql":
        for block in ordered:
            connection.execute(select(BLOCKS.c.pairs).where(*_of(BLOCKS, block)).with_for_update())


def insert(connection: Connection, table: Table) -> Insert:
    """Return the insertion of a database that can say what becomes of rows that are there."""
    return _insert(connection.dialect.name, table)


def _insert(dialect: str, table: Table) -> Insert:
    if dialect == "sqlite":
        return sqlite.insert(table)
    from sqlalchemy.dialects import postgresql  # noqa: PLC0415 - slow to load, and few stores need it

    return postgresql.insert(table)


def ratings_saved(connection: Connection, block: Block, channels: Collection[str], run_id: int) -> None:
    """Bring a locked block up to date after ratings of some channels were saved in a run."""
    _take_present(connection, [block], run_id)
    _note_run(connection, [block], run_id)
    _combine(connection, block, channels)


def blocks_saved(
    connection: Connection,
    derived: Mapping[Block, Derived],
    run_id: int,
    *,
    pairs: int,
    all_new: bool,
) -> None:
    """Bring locked blocks up to date after their ratings and evidence were saved in a run.

    Aggregates that a worker derived are valid if every pair of the blocks has one of these ratings, and the
    store had none of them before, because the numbers of an existing rating are not replaced.
    """
    taken = _take_present(connection, derived, run_id)
    _note_run(connection, derived, run_id)
    present = sum(connection.execute(_PRESENT_PAIRS, _given(block)).scalar_one() for block in derived)
    if all_new and taken == pairs == present:
        replace(connection, AGGREGATES, [row for one in derived.values() for row in one.aggregates])
        connection.execute(_BLOCK, [one.values | _given(block) for block, one in derived.items()])
    else:
        for block in derived:
            _combine(connection, block, None)


def _take_present(connection: Connection, blocks: Iterable[Block], run_id: int) -> int:
    """Make the entries of a run the present ones of their pairs; return of how many pairs that is new."""
    statement = _taking(connection.dialect.name)
    given = [{"of_run": run_id, **_given(block)} for block in blocks]
    return connection.execute(statement, given).rowcount


@cache
def _taking(dialect: str) -> Insert:
    saved = select(*(ENTRIES.c[name] for name in NAMES), ENTRIES.c.id)
    saved = saved.where(ENTRIES.c.run_id == bindparam("of_run"), *_of_given(ENTRIES))
    rows = _insert(dialect, PRESENT).from_select([*NAMES, "entry_id"], saved)
    # An older run may be saved again; its entries are older than the present ones.
    is_later = PRESENT.c.entry_id < rows.excluded.entry_id
    given = {"entry_id": rows.excluded.entry_id}
    return rows.on_conflict_do_update(index_elements=[*NAMES], set_=given, where=is_later)


def evidence_saved(connection: Connection, block: Block) -> None:
    """Update a locked block after its evidence was saved, which decides which pairs count."""
    _combine(connection, block, None)


def _note_run(connection: Connection, blocks: Iterable[Block], run_id: int) -> None:
    """Save the first entry of blocks, and their first and last run."""
    noted = []
    for block in blocks:
        held = connection.execute(_RUNS_OF_BLOCK, _given(block)).one()
        ordered = _by_start(connection, {*held, run_id} - {None})
        noted.append({"new_first": ordered[0], "new_last": ordered[-1], **_given(block)})
    connection.execute(_NOTE_RUNS, noted)


def _by_start(connection: Connection, runs: Collection[int]) -> Sequence[int]:
    if len(runs) == 1:
        return [*runs]
    started = select(RUNS.c.id).where(RUNS.c.id.in_(runs)).order_by(RUNS.c.started, RUNS.c.id)
    return connection.execute(started).scalars().all()


def _combine(connection: Connection, block: Block, channels: Collection[str] | None) -> None:
    """Save the aggregates of some channels, of all where none are named, and the row of the block."""
    evidence = connection.execute(
        select(EVIDENCE.c.state, EVIDENCE.c.content).where(*_of(EVIDENCE, block))
    ).one_or_none()
    found = () if evidence is None else channels_of_plain(json.loads(evidence.content))
    pairs = _present_pairs(connection, block, channels)
    rows = [*_aggregates(block, pairs, None if evidence is None else _counted(found))]
    replace(connection, AGGREGATES, rows)
    columns = (AGGREGATES.c.channel, AGGREGATES.c.numbers, AGGREGATES.c.left_out)
    every = [tuple(row) for row in connection.execute(select(*columns).where(*_of(AGGREGATES, block)))]
    values = _values(every, found, None if evidence is None else evidence.state)
    connection.execute(_BLOCK, values | _given(block))


def _counted(found: Iterable[ChannelEvidence]) -> dict[str, set[str]]:
    return {one.channel: set(one.pairs) for one in found}


def _values(every: Sequence[Bound], found: Sequence[ChannelEvidence], state: str | None) -> Row:
    """Return what the row of a block says of all its aggregates and its evidence."""
    counting = {channel: [one[0] for one in json.loads(numbers)] for channel, numbers, _ in every}
    earlier = {channel: {*counting[channel], *json.loads(left_out)} for channel, _, left_out in every}
    return {
        "pairs": sum(map(len, earlier.values())),
        "counted": sum(map(len, counting.values())),
        "digest": _digest(every),
        "state": state,
        "channels": _text([one.channel for one in found]),
        "lacking": _text(
            [
                asdict(one) | {"earlier": sorted(earlier.get(one.channel, ()))}
                for one in found
                if lacks(one, earlier.get(one.channel, set()))
            ]
        ),
    }


def _present_pairs(
    connection: Connection, block: Block, channels: Collection[str] | None
) -> Iterator[tuple[str, str, float, Any]]:
    """Yield channel, repeat, rating and intermediate values of the pairs of channels, by entry."""
    wanted = [] if channels is None else [PRESENT.c.channel.in_(channels)]
    pairs = (
        select(PRESENT.c.channel, PRESENT.c.repeat, RATINGS.c.overall, RATINGS.c.ingredients)
        .join(ENTRIES, ENTRIES.c.id == PRESENT.c.entry_id)
        .join(RATINGS, RATINGS.c.key == ENTRIES.c.rating_key)
        .where(*_of(PRESENT, block), *wanted)
        .order_by(PRESENT.c.entry_id)
    )
    for channel, repeat, overall, ingredients in connection.execute(pairs):
        yield channel, repeat, overall, json.loads(ingredients)


def _aggregates(
    block: Block,
    pairs: Iterable[tuple[str, str, float, Any]],
    counted: Mapping[str, Collection[str]] | None,
) -> Iterator[Bound]:
    """Yield the aggregates of channels from their pairs; without evidence every pair counts."""
    numbers: dict[str, list[Any]] = {}
    left_out: dict[str, list[str]] = {}
    for channel, repeat, overall, ingredients in pairs:
        part, rest = numbers.setdefault(channel, []), left_out.setdefault(channel, [])
        if counted is None or repeat in counted.get(channel, ()):
            part.append([repeat, overall, *_peak_and_also(ingredients)])
        else:
            rest.append(repeat)
    for channel, part in numbers.items():
        yield (*block, channel, _text(part), _text(left_out[channel]))


def _peak_and_also(ingredients: Mapping[str, Any]) -> tuple[Any, dict[str, Any]]:
    corridor, also = ingredients.get("corridor") or {}, ingredients.get("also") or {}
    return corridor.get("reference_peak"), {name: also[name]["value"] for name in sorted(also)}


def number_pairs(
    connection: Connection, campaign: str, **only: str
) -> tuple[list[NumberPair], dict[tuple[str, str], str]]:
    """Return the pairs that count in results, and their hash for each release and load case."""
    wanted = (AGGREGATES.c[name] == value for name, value in only.items())
    names = ("release", "load_case", "channel", "numbers", "left_out")
    statement = select(*(AGGREGATES.c[name] for name in names)).where(
        AGGREGATES.c.campaign == campaign, *wanted
    )
    pairs: list[NumberPair] = []
    rows: dict[tuple[str, str], list[tuple[str, ...]]] = {}
    for release, load_case, *row in connection.execute(statement):
        rows.setdefault((release, load_case), []).append(tuple(row))
        pairs += _pairs(release, load_case, row[0], row[1])
    return pairs, {block: _digest(found) for block, found in rows.items()}


def number_pairs_at(
    connection: Connection, campaign: str, releases: Collection[str], places: Iterable[tuple[str, str]]
) -> list[NumberPair]:
    """Return the pairs of some load cases and channels that are part of numbers of some releases."""
    names: dict[str, list[str]] = {}
    for load_case, channel in places:
        names.setdefault(load_case, []).append(channel)
    columns = ("release", "channel", "numbers")
    pairs: list[NumberPair] = []
    for load_case, channels in names.items():
        statement = select(*(AGGREGATES.c[name] for name in columns)).where(
            AGGREGATES.c.campaign == campaign,
            AGGREGATES.c.release.in_(releases),
            AGGREGATES.c.load_case == load_case,
            AGGREGATES.c.channel.in_(channels),
        )
        for release, channel, numbers in connection.execute(statement):
            pairs += _pairs(release, load_case, channel, numbers)
    return pairs


def recomputed(connection: Connection) -> bool:
    """Compute everything derived from ratings and evidence again, and tell whether it was correct.

    Differences are corrected; a caller that only checks rolls the transaction back.
    """
    saved = _derived(connection)
    last = select(func.max(ENTRIES.c.id)).group_by(*(ENTRIES.c[name] for name in NAMES))
    entries = select(*(ENTRIES.c[name] for name in NAMES), ENTRIES.c.id).where(ENTRIES.c.id.in_(last))
    for table in (AGGREGATES, PRESENT):
        connection.execute(table.delete())
    connection.execute(insert(connection, PRESENT).from_select([*NAMES, "entry_id"], entries))
    for block in connection.execute(select(*(BLOCKS.c[name] for name in BLOCK))).all():
        _combine(connection, (block[0], block[1], block[2]), None)
    return saved == _derived(connection)


def _derived(connection: Connection) -> list[list[tuple[Any, ...]]]:
    tables = (PRESENT, AGGREGATES, BLOCKS)
    return [sorted((tuple(row) for row in connection.execute(select(table))), key=repr) for table in tables]


def _pairs(release: str, load_case: str, channel: str, numbers: str) -> Iterator[NumberPair]:
    for repeat, overall, peak, also in json.loads(numbers):
        yield NumberPair(release, load_case, channel, repeat, overall, peak, also)


def blocks(connection: Connection, campaign: str) -> list[BlockRow]:
    """Return what is saved of each block of a campaign. See `Store.blocks`."""
    columns = [BLOCKS.c[name] for name in BlockRow.__dataclass_fields__ if name != "summary"]
    parts = [BLOCKS.c.state, BLOCKS.c.channels, BLOCKS.c.lacking]
    rows = connection.execute(select(*columns, *parts).where(BLOCKS.c.campaign == campaign)).mappings()
    return [BlockRow(**{one.name: row[one.name] for one in columns}, summary=_summary(row)) for row in rows]


def _summary(row: RowMapping) -> CaseSummary | None:
    if row["state"] is None:
        return None
    lacking, earlier = _lacking(row["lacking"])
    return CaseSummary(state=row["state"], channels=_names(row["channels"]), lacking=lacking, earlier=earlier)


@lru_cache(maxsize=256)
def _names(text: str) -> tuple[str, ...]:
    """Read names of channels; cached, because most blocks of a load case have the same."""
    return tuple(json.loads(text))


def _lacking(text: str) -> tuple[dict[str, ChannelEvidence], dict[str, set[str]]]:
    plain = json.loads(text)
    found = {one.channel: one for one in channels_of_plain(plain)}
    return found, {one["channel"]: set(one["earlier"]) for one in plain}


def replace(connection: Connection, table: Table, rows: Iterable[Bound]) -> None:
    """Write rows in the place of those that have the same primary key, which comes first in each."""
    names = tuple(column.name for column in table.primary_key)
    # In one order, so that of two writers none waits for a row of the other that waits for one of its own.
    write(connection, table, sorted(rows, key=lambda row: row[: len(names)]), instead_of=names)


def write(
    connection: Connection, table: Table, rows: Sequence[Bound], *, instead_of: tuple[str, ...] = ()
) -> int:
    """Insert rows, which bypass the types of the columns; return how many were not there already.

    Parameters
    ----------
    connection
        In a transaction.
    table
        Of the rows.
    rows
        From `tables.bound`.
    instead_of
        Columns: a row that has the same values in them is replaced. Without them, rows that are there stay.
    """
    if not rows:
        return 0
    return connection.exec_driver_sql(
        _insertion(connection.dialect.name, table, instead_of), [*rows]
    ).rowcount


@cache
def _insertion(dialect: str, table: Table, instead_of: tuple[str, ...]) -> str:
    """Return the text of an insertion, with places for the values of a row in the order of `tables.bound`."""
    names = [column.name for column in written(table)]
    statement = _insert(dialect, table)
    given = {name: statement.excluded[name] for name in names if name not in instead_of}
    if instead_of:
        statement = statement.on_conflict_do_update(index_elements=[*instead_of], set_=given)
    else:
        statement = statement.on_conflict_do_nothing()
    # By position: a list of values binds quicker than one of names.
    styles = {"postgresql": "format", "sqlite": "qmark"}
    driver = registry.load(dialect)(paramstyle=styles[dialect])
    return str(statement.inline().compile(dialect=driver, column_keys=names))


def _of(table: Table, block: Block) -> list[ColumnElement[bool]]:
    return [table.c[name] == value for name, value in zip(BLOCK, block, strict=True)]


def _digest(rows: Iterable[tuple[str, ...]]) -> str:
    """Return the hash of channels with the values that their results are computed from."""
    # Sorted here, because each database sorts text in its own way.
    return hashlib.sha256(_text(sorted(rows)).encode()).hexdigest()


def _text(content: Any) -> str:
    return json.dumps(content, ensure_ascii=True, separators=(",", ":"))
