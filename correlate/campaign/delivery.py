"""What comes back of the blocks that were rated together, and how their ratings are saved.

Saving has two halves. The first is done where blocks are rated, so that the program that collects them, of
which there is only one, does little for each pair.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from correlate.campaign.block import Block, Known
from correlate.evaluation.evidence import CaseEvidence, with_flags
from correlate.evaluation.record import PairRecord

if TYPE_CHECKING:
    from collections.abc import Iterable

Job = tuple[str, str]
"""A load case and a release, by name."""

Keep = Callable[[list[PairRecord]], None]
"""Called with the new records of each block."""

NewRatings = tuple[Sequence[PairRecord], CaseEvidence]
"""New records of a block, and what they stand on."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstHalf:
    """The half of saving that is done where blocks are rated; it can be pickled.

    Attributes
    ----------
    prepare
        Called with the new ratings of blocks. Returns what is left to do for the program that collects.
    keeps
        Whether the records can be read again where they are saved, so that they need not come back.
    scope
        What the result depends on beside the ratings; empty where it depends on nothing else.
    """

    prepare: Callable[[Sequence[NewRatings]], Any]
    keeps: bool
    scope: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Saving:
    """How new ratings are saved.

    Attributes
    ----------
    first
        Done where blocks are rated.
    finish
        Called in the program that collects, with what `first` returned; then the ratings are saved.
    """

    first: FirstHalf
    finish: Callable[[Any], None]


def saving_by(keep: Keep | None) -> Saving:
    """Return the saving that passes the new records of each block to a function, if there is one."""

    def finish(parts: Iterable[list[PairRecord]]) -> None:
        for records in parts:
            if keep is not None and records:
                keep(records)

    return Saving(first=FirstHalf(prepare=_records_of, keeps=False), finish=finish)


def _records_of(ratings: Sequence[NewRatings]) -> list[list[PairRecord]]:
    return [[*records] for records, _ in ratings]


@dataclass(frozen=True, slots=True)
class Delivery:
    """Blocks that were rated together.

    Attributes
    ----------
    jobs
        Load case and release of each block.
    blocks
        What came of each.
    prepared
        What is left to save of those that had no known rating.
    """

    jobs: Sequence[Job]
    blocks: Sequence[Block]
    prepared: Any


def deliver(jobs: Sequence[Job], blocks: Sequence[Block], first: FirstHalf) -> Delivery:
    """Do the first half of saving what was rated here.

    A block with known ratings is left to the program, which alone has their records.
    """
    new = {place: _new_ratings(block) for place, block in enumerate(blocks) if not _has_known(block)}
    prepared = first.prepare([*new.values()])
    if first.keeps:
        blocks = [
            replace(block, pairs=[], saved=len(new[place][0]), evidence=new[place][1])
            if place in new
            else block
            for place, block in enumerate(blocks)
        ]
    return Delivery(jobs, blocks, prepared)


def _has_known(block: Block) -> bool:
    return any(isinstance(pair, Known) for pair in block.pairs)


def _new_ratings(block: Block) -> NewRatings:
    records = [pair for pair in block.pairs if isinstance(pair, PairRecord)]
    return records, with_flags(block.evidence, records)
