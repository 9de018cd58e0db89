"""Results of blocks that were rated together, and how their ratings are saved.

Saving has two halves. The first is done where blocks are rated, because there is only one collecting program,
and its work per pair limits how many workers can be used.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from itertools import chain
from typing import TYPE_CHECKING, Any

from correlate.evaluation.evidence import CaseEvidence, with_flags
from correlate.evaluation.record import PairRecord

if TYPE_CHECKING:
    from collections.abc import Iterable

    from correlate.campaign.block import Block

Job = tuple[str, str]
"""A load case and a release, by name."""

Keep = Callable[[list[PairRecord], CaseEvidence], None]
"""Called with the new records of each block, which may be none, and its evidence."""

NewRatings = tuple[Sequence[PairRecord], CaseEvidence]
"""New records of a block, and the evidence behind them."""


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstHalf:
    """The half of saving that is done where blocks are rated; it can be pickled.

    Attributes
    ----------
    prepare
        Called with the new ratings of blocks. Returns the work that is left for the collecting program.
    keeps
        Whether the records can be read from where they are saved, so that they need not be returned.
    scope
        What the result depends on besides the ratings; empty if nothing else.
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
        Called in the collecting program with one or more results of `first`; afterwards the ratings are
        saved.
    evidence
        Evidence that is saved already, by load case and release.
    """

    first: FirstHalf
    finish: Callable[[Sequence[Any]], None]
    evidence: Mapping[Job, CaseEvidence] = field(default_factory=dict)

    def save(self, records: Sequence[PairRecord], evidence: CaseEvidence) -> None:
        """Save new ratings of a block, which may be none, unless all of it is saved already."""
        if records or self.evidence.get((evidence.load_case, evidence.release)) != evidence:
            self.finish([self.first.prepare([(records, evidence)])])


def saving_by(keep: Keep | None) -> Saving:
    """Return the saving that passes the new records of each block to a function, if there is one."""

    def finish(parts: Iterable[Iterable[tuple[list[PairRecord], CaseEvidence]]]) -> None:
        for records, evidence in chain.from_iterable(parts):
            if keep is not None:
                keep(records, evidence)

    return Saving(first=FirstHalf(prepare=_as_they_are, keeps=False), finish=finish)


def _as_they_are(ratings: Sequence[NewRatings]) -> list[tuple[list[PairRecord], CaseEvidence]]:
    return [([*records], evidence) for records, evidence in ratings]


@dataclass(frozen=True, slots=True)
class Delivery:
    """Blocks that are delivered together.

    Attributes
    ----------
    jobs
        Load case and release of each block.
    blocks
        Result of each.
    prepared
        Results of `FirstHalf.prepare` for the blocks in which every rating is new, still to be saved.
    """

    jobs: Sequence[Job]
    blocks: Sequence[Block]
    prepared: Sequence[Any]


def deliver(jobs: Sequence[Job], blocks: Sequence[Block], first: FirstHalf) -> Delivery:
    """Do the first half of saving the ratings that were computed here.

    A block with known ratings is left to the collecting program, because only that program has their records.
    """
    new = {place: _new_ratings(block) for place, block in enumerate(blocks) if block.is_new}
    prepared = first.prepare([*new.values()])
    if first.keeps:
        blocks = [
            replace(block, pairs=[], saved=len(new[place][0]), evidence=new[place][1])
            if place in new
            else block
            for place, block in enumerate(blocks)
        ]
    return Delivery(jobs, blocks, [prepared])


def together(parts: Sequence[Delivery]) -> Delivery:
    """Combine several deliveries into one, so that they are saved together."""
    return Delivery(
        [job for part in parts for job in part.jobs],
        [block for part in parts for block in part.blocks],
        [prepared for part in parts for prepared in part.prepared],
    )


def _new_ratings(block: Block) -> NewRatings:
    records = [pair for pair in block.pairs if isinstance(pair, PairRecord)]
    return records, with_flags(block.evidence, records)
