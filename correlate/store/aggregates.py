"""The values that results are computed from, saved beside the ratings, so that no page reads every rating.

A block is one load case of one release, as scoring rates it. A function that saves ratings or evidence of a
block locks its row first, and updates present ratings, aggregates and that row in the same transaction.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import asdict, dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

from sqlalchemy import ColumnElement, Table, func, select, update
from sqlalchemy.dialects import postgresql, sqlite

from correlate.campaign.release_evidence import CaseSummary, lacks
from correlate.display import short_repr
from correlate.evaluation.evidence import ChannelEvidence, channels_of_plain
from correlate.store.tables import AGGREGATES, BLOCK, BLOCKS, ENTRIES, EVIDENCE, NAMES, PRESENT, RATINGS, RUNS

if TYPE_CHECKING:
    from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence

    from sqlalchemy import Connection, RowMapping

    from correlate.store.rows import Row

Block = tuple[str, str, str]
"""Campaign, release and load case."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class NumberPair:
    """A rated pair that counts in a result, with the values that the result needs.

    Attributes
    ----------
    release, load_case, channel, repeat
        Names.
    overall
        In [0, 1].
    ingredients
        Only the peak of the reference and the values of further measures.
    """

    release: str
    load_case: str
    channel: str
    repeat: str
    overall: float
    ingredients: Mapping[str, Any]


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


def lock(connection: Connection, blocks: Iterable[Block]) -> None:
    """Let writers of the same blocks take turns until the transaction ends; in one order for all."""
    for block in sorted(set(blocks)):
        names = dict(zip(BLOCK, block, strict=True))
        connection.execute(insert(connection, BLOCKS).on_conflict_do_nothing(), names)
        connection.execute(select(BLOCKS.c.pairs).where(*_of(BLOCKS, block)).with_for_update())


def insert(connection: Connection, table: Table) -> sqlite.Insert | postgresql.Insert:
    """Return the INSERT statement of the database that supports ON CONFLICT."""
    return postgresql.insert(table) if connection.dialect.name == "postgresql" else sqlite.insert(table)


def ratings_saved(
    connection: Connection, block: Block, channels: Collection[str], run_id: int, *, with_evidence: bool
) -> None:
    """Update a locked block after ratings of some channels, and perhaps evidence, were saved in a run."""
    saved = (
        select(*(ENTRIES.c[name] for name in NAMES), ENTRIES.c.id)
        .where(ENTRIES.c.run_id == run_id, *_of(ENTRIES, block))
        .where(ENTRIES.c.channel.in_(channels))
    )
    rows = insert(connection, PRESENT).from_select([*NAMES, "entry_id"], saved)
    # An older run may be saved again; its entries are older than the present ones.
    is_later = PRESENT.c.entry_id < rows.excluded.entry_id
    given = {"entry_id": rows.excluded.entry_id}
    connection.execute(rows.on_conflict_do_update(index_elements=[*NAMES], set_=given, where=is_later))
    _note_run(connection, block, run_id)
    _combine(connection, block, None if with_evidence else channels)


def evidence_saved(connection: Connection, block: Block) -> None:
    """Update a locked block after its evidence was saved, which decides which pairs count."""
    _combine(connection, block, None)


def _note_run(connection: Connection, block: Block, run_id: int) -> None:
    """Save the first entry of a block, and its first and last run."""
    held = connection.execute(select(BLOCKS).where(*_of(BLOCKS, block))).one()
    runs = {held.first_run, held.last_run, run_id} - {None}
    started = select(RUNS.c.id).where(RUNS.c.id.in_(runs)).order_by(RUNS.c.started, RUNS.c.id)
    ordered = list(connection.execute(started).scalars())
    first = select(func.min(PRESENT.c.entry_id)).where(*_of(PRESENT, block)).scalar_subquery()
    noted = {
        "first_run": ordered[0],
        "last_run": ordered[-1],
        "first_entry": first if held.first_entry is None else held.first_entry,
    }
    connection.execute(update(BLOCKS).where(*_of(BLOCKS, block)).values(noted))


def _combine(connection: Connection, block: Block, channels: Collection[str] | None) -> None:
    """Save the aggregates of some channels, of all where none are named, and the row of the block."""
    names = dict(zip(BLOCK, block, strict=True))
    evidence = connection.execute(
        select(EVIDENCE.c.state, EVIDENCE.c.content).where(*_of(EVIDENCE, block))
    ).one_or_none()
    found = () if evidence is None else channels_of_plain(json.loads(evidence.content))
    counted = None if evidence is None else {one.channel: set(one.pairs) for one in found}
    rows = [names | row for row in _aggregates(connection, block, channels, counted)]
    replace(connection, AGGREGATES, rows)
    columns = (AGGREGATES.c.channel, AGGREGATES.c.numbers, AGGREGATES.c.left_out)
    every = [tuple(row) for row in connection.execute(select(*columns).where(*_of(AGGREGATES, block)))]
    counting = {channel: [one[0] for one in json.loads(numbers)] for channel, numbers, _ in every}
    earlier = {channel: {*counting[channel], *json.loads(left_out)} for channel, _, left_out in every}
    values = {
        "pairs": sum(map(len, earlier.values())),
        "counted": sum(map(len, counting.values())),
        "digest": _digest(every),
        "state": None if evidence is None else evidence.state,
        "channels": _text([one.channel for one in found]),
        "lacking": _text(
            [
                asdict(one) | {"earlier": sorted(earlier.get(one.channel, ()))}
                for one in found
                if lacks(one, earlier.get(one.channel, set()))
            ]
        ),
    }
    connection.execute(update(BLOCKS).where(*_of(BLOCKS, block)).values(values))


def _aggregates(
    connection: Connection,
    block: Block,
    channels: Collection[str] | None,
    counted: Mapping[str, Collection[str]] | None,
) -> Iterator[Row]:
    """Yield the aggregates of channels from their present ratings; without evidence every pair counts."""
    wanted = [] if channels is None else [PRESENT.c.channel.in_(channels)]
    pairs = (
        select(PRESENT.c.channel, PRESENT.c.repeat, RATINGS.c.overall, RATINGS.c.ingredients)
        .join(ENTRIES, ENTRIES.c.id == PRESENT.c.entry_id)
        .join(RATINGS, RATINGS.c.key == ENTRIES.c.rating_key)
        .where(*_of(PRESENT, block), *wanted)
        .order_by(PRESENT.c.entry_id)
    )
    numbers: dict[str, list[Any]] = {}
    left_out: dict[str, list[str]] = {}
    for channel, repeat, overall, ingredients in connection.execute(pairs):
        part, rest = numbers.setdefault(channel, []), left_out.setdefault(channel, [])
        if counted is None or repeat in counted.get(channel, ()):
            part.append([repeat, overall, *_peak_and_also(json.loads(ingredients))])
        else:
            rest.append(repeat)
    for channel, part in numbers.items():
        yield {"channel": channel, "numbers": _text(part), "left_out": _text(left_out[channel])}


def _peak_and_also(ingredients: Mapping[str, Any]) -> tuple[Any, dict[str, Any]]:
    corridor, also = ingredients.get("corridor") or {}, ingredients.get("also") or {}
    return corridor.get("reference_peak"), {name: one["value"] for name, one in also.items()}


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
        yield NumberPair(
            release=release,
            load_case=load_case,
            channel=channel,
            repeat=repeat,
            overall=overall,
            ingredients={
                "corridor": {"reference_peak": peak},
                "also": {name: {"value": value} for name, value in also.items()},
            },
        )


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


def replace(connection: Connection, table: Table, rows: Sequence[Row]) -> None:
    """Write rows, replacing those with the same primary key."""
    if not rows:
        return
    statement = insert(connection, table)
    names = [column.name for column in table.primary_key]
    given = {column.name: statement.excluded[column.name] for column in table.c if column.name not in names}
    saving = statement.on_conflict_do_update(index_elements=names, set_=given)
    # Always in the same order, so that two writers cannot deadlock.
    connection.execute(saving, sorted(rows, key=lambda row: [row[name] for name in names]))


def _of(table: Table, block: Block) -> list[ColumnElement[bool]]:
    return [table.c[name] == value for name, value in zip(BLOCK, block, strict=True)]


def _digest(rows: Iterable[tuple[str, ...]]) -> str:
    """Return the hash of channels with the values that their results are computed from."""
    # Sorted here, because each database sorts text in its own way.
    return hashlib.sha256(_text(sorted(rows)).encode()).hexdigest()


def _text(content: Any) -> str:
    return json.dumps(content, ensure_ascii=True, separators=(",", ":"))
