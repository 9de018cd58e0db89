"""Results of blocks that were rated together, and how their ratings are saved.

Saving has two halves. The first is done where blocks are rated, because there is only one collecting program,
and its work per pair limits how many workers can be used.
"""

from __future__ import annotations

import hashlib
import pickle
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any

from correlate.errors import SettingsError
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
        Called in the collecting program with the result of `first`; afterwards the ratings are saved.
    evidence
        Evidence that is saved already, by load case and release.
    """

    first: FirstHalf
    finish: Callable[[Any], None]
    evidence: Mapping[Job, CaseEvidence] = field(default_factory=dict)

    def save(self, records: Sequence[PairRecord], evidence: CaseEvidence) -> None:
        """Save new ratings of a block, which may be none, unless all of it is saved already."""
        if records or self.evidence.get((evidence.load_case, evidence.release)) != evidence:
            self.finish(self.first.prepare([(records, evidence)]))


def saving_by(keep: Keep | None) -> Saving:
    """Return the saving that passes the new records of each block to a function, if there is one."""

    def finish(parts: Iterable[tuple[list[PairRecord], CaseEvidence]]) -> None:
        for records, evidence in parts:
            if keep is not None:
                keep(records, evidence)

    return Saving(first=FirstHalf(prepare=_as_they_are, keeps=False), finish=finish)


def _as_they_are(ratings: Sequence[NewRatings]) -> list[tuple[list[PairRecord], CaseEvidence]]:
    return [([*records], evidence) for records, evidence in ratings]


@dataclass(frozen=True, slots=True)
class Delivery:
    """Blocks that were rated together.

    Attributes
    ----------
    jobs
        Load case and release of each block.
    blocks
        Result of each.
    prepared
        What is left to save of the blocks in which every rating is new.
    """

    jobs: Sequence[Job]
    blocks: Sequence[Block]
    prepared: Any


@dataclass(frozen=True, slots=True)
class Sealed:
    """A delivery that is sent through a scheduler, with the hash of its bytes and its task.

    Attributes
    ----------
    content
        The pickled delivery.
    sha256
        Hash of the name of its task and the content. Without a secret, it detects damage and mistakes, not
        forgery: a program that can send results as a worker can run code in this program anyway.
    """

    content: bytes
    sha256: str

    @classmethod
    def of(cls, delivery: Delivery, task: str) -> Sealed:
        """Seal the result of a task."""
        content = pickle.dumps(delivery, pickle.HIGHEST_PROTOCOL)
        return cls(content, _seal(task, content))

    def opened(self, task: str, *, where: str) -> Delivery:
        """Return the result of a task.

        Parameters
        ----------
        task
            Key of the task that was submitted.
        where
            Location for the error message.

        Raises
        ------
        SettingsError
            It is damaged, or the result of another task; nothing of it was read.
        """
        if _seal(task, self.content) != self.sha256:
            raise SettingsError(
                "the result of a worker is damaged, or that of another task",
                where=where,
                remedy="score again to continue, finished ratings are saved; if that does not help, restart "
                "the scheduler and its workers",
            )
        found: Delivery = pickle.loads(self.content)  # noqa: S301 - as the scheduler does with all that comes
        return found


def _seal(task: str, content: bytes) -> str:
    """Return the hash of a result and of the key of its task, which covers versions, settings and inputs."""
    seal = hashlib.sha256(f"{task}\n".encode())
    seal.update(content)
    return seal.hexdigest()


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
    return Delivery(jobs, blocks, prepared)


def _new_ratings(block: Block) -> NewRatings:
    records = [pair for pair in block.pairs if isinstance(pair, PairRecord)]
    return records, with_flags(block.evidence, records)
