"""Scoring a campaign: block after block, here, in other processes or through a scheduler."""

from __future__ import annotations

import os
import threading
from collections import Counter, deque
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import asdict, dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final, Protocol

from correlate.campaign.block import Block, BlockScorer, Known
from correlate.display import frame, row, short_repr
from correlate.errors import SettingsError
from correlate.evaluation.definition import Campaign, load_campaign
from correlate.evaluation.evidence import Unpaired, Unrated, with_flags
from correlate.parallel import (
    WORKERS,
    given_up,
    has_result,
    scheduled,
    scheduler_client,
    share_out,
    without_working_folder,
)

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from pandas import DataFrame

    from correlate.evaluation.evidence import CaseEvidence
    from correlate.evaluation.record import PairRecord

    Keep = Callable[[list[PairRecord], CaseEvidence], None]

    Progress = Callable[[int, int], None]


class Rated(Protocol):
    """A rated pair, or the ceiling of a channel in the place of one.

    Attributes
    ----------
    release, load_case, channel, repeat
        Names.
    overall
        In [0, 1].
    ingredients
        With ``corridor`` and its ``reference_peak``, and ``also`` where other measures were taken.
    """

    @property
    def release(self) -> str:
        """Release name."""

    @property
    def load_case(self) -> str:
        """Name of the load case."""

    @property
    def channel(self) -> str:
        """Name of the channel."""

    @property
    def repeat(self) -> str:
        """Name of the repeat."""

    @property
    def overall(self) -> float:
        """Rating in [0, 1]."""

    @property
    def ingredients(self) -> Mapping[str, Any]:
        """Raw values behind the scores."""


Job = tuple[str, str]
"""A load case and a release, by name."""

Rate = Callable[[Job], Block]
"""Rates one block."""

Engine = Callable[[Campaign, Sequence[Job], frozenset[str]], Iterator[tuple[Job, Block]]]
"""Campaign, blocks and keys of known ratings in; blocks out, in any order."""


LARGEST_BUNDLE: Final = 8
"""Most blocks that a scheduler is given as one task; a lost worker costs that many at most."""


class WaitingJobs:
    """Hands out blocks so that each worker stays with a load case, whose tests it has read already.

    Examples
    --------
    >>> waiting = WaitingJobs([("drop", "A1"), ("drop", "A2"), ("sled", "A1")])
    >>> [waiting.take(worker) for worker in ("one", "two", "one", "two")]
    [('drop', 'A1'), ('sled', 'A1'), ('drop', 'A2'), None]
    """

    def __init__(self, jobs: Iterable[Job]) -> None:
        self._by_load_case: dict[str, deque[Job]] = {}
        self._at: dict[Hashable, str] = {}
        for job in jobs:
            self._by_load_case.setdefault(job[0], deque()).append(job)

    def take(self, worker: Hashable) -> Job | None:
        """Return the next block for a worker."""
        if not self._by_load_case:
            return None
        at = self._at.get(worker)
        load_case = at if at in self._by_load_case else self._least_crowded()
        self._at[worker] = load_case
        jobs = self._by_load_case[load_case]
        job = jobs.popleft()
        if not jobs:
            del self._by_load_case[load_case]
        return job

    def _least_crowded(self) -> str:
        """Return the load case with the most waiting blocks for each worker that is at it."""
        workers = Counter(self._at.values())
        return max(self._by_load_case, key=lambda name: len(self._by_load_case[name]) / (1 + workers[name]))


def one_process(
    campaign: Campaign, jobs: Sequence[Job], known: frozenset[str]
) -> Iterator[tuple[Job, Block]]:
    """Rate block after block here."""
    rate = _rater(campaign, known)
    for job in jobs:
        yield job, rate(job)


def _rater(campaign: Campaign, known: frozenset[str]) -> Rate:
    """Return what rates block after block here, and remembers the tests it read last."""
    scorer = BlockScorer(campaign)
    return lambda job: scorer.score(campaign.load_case(job[0]), campaign.release(job[1]), known)


def local_engine(workers: int | None = None) -> Engine:
    """Return an engine that rates in this process and in others beside it.

    This process has its libraries loaded, so it begins at once while the others start.
    """

    def engine(campaign: Campaign, jobs: Sequence[Job], known: frozenset[str]) -> Iterator[tuple[Job, Block]]:
        count = min(workers or os.cpu_count() or 1, len(jobs))
        if count <= 1:
            yield from one_process(campaign, jobs, known)
            return
        with ExitStack() as started:
            yield from share_out(
                WaitingJobs(jobs).take, [*_workers(count, campaign, known, started)], ahead=1
            )

    return engine


def _workers(
    count: int, campaign: Campaign, known: frozenset[str], started: ExitStack
) -> Iterator[tuple[Executor, Rate]]:
    """Start one worker in this process and the others beside it."""
    # A package of this name in a received project folder must not run.
    started.enter_context(without_working_folder())
    for _ in range(count - 1):
        beside = ProcessPoolExecutor(
            1,
            mp_context=WORKERS,
            initializer=_begin,
            initargs=(campaign.path, campaign.sha256, known),
        )
        started.callback(beside.shutdown, wait=True, cancel_futures=True)
        yield beside, _score_begun
    here = ThreadPoolExecutor(1)
    # After Ctrl-C nobody waits for the block it is at, which would be thrown away.
    started.push(
        lambda kind, *_: here.shutdown(wait=kind is None or issubclass(kind, Exception), cancel_futures=True)
    )
    yield here, _rater(campaign, known)


def dask_engine(address: str) -> Engine:
    """Return an engine that hands blocks to a scheduler that is there already."""

    def engine(campaign: Campaign, jobs: Sequence[Job], known: frozenset[str]) -> Iterator[tuple[Job, Block]]:
        with scheduler_client(address) as client:
            # Once for each worker, not once for each task.
            (shared,) = client.scatter([known], broadcast=True, hash=False)
            bundles = [*_bundles(jobs, len(client.nthreads()))]
            settings = {"path": campaign.path, "sha256": campaign.sha256, "known": shared}
            for bundle, future in scheduled(client, _score_anywhere, bundles, **settings):
                yield from zip(bundle, _blocks_of(future, bundle), strict=True)

    return engine


def _bundles(jobs: Sequence[Job], workers: int) -> Iterator[Sequence[Job]]:
    """Cut into tasks of a few blocks of one load case: a scheduler spends milliseconds on a task of any size.

    They become smaller towards the end, so that the workers end together.
    """
    start = 0
    while start < len(jobs):
        size = max(1, min(LARGEST_BUNDLE, (len(jobs) - start) // (4 * max(1, workers))))
        load_case = jobs[start][0]
        bundle = [job for job in jobs[start : start + size] if job[0] == load_case]
        yield bundle
        start += len(bundle)


def _blocks_of(future: Any, jobs: Sequence[Job]) -> list[Block]:
    if has_result(future):
        blocks: list[Block] = future.result()
        return blocks
    raise SettingsError(
        given_up(future),
        where=f"load case '{jobs[0][0]}' of release '{jobs[0][1]}'",
        remedy="see the logs of its workers; finished ratings are saved; score again to continue",
    )


# What a worker holds between blocks; one per thread, because a scorer remembers the tests it read last.
_held = threading.local()


def _begin(path: Path, sha256: str, known: frozenset[str]) -> None:
    _scorer(path, sha256)
    _held.known = known


def _score_begun(job: Job) -> Block:
    return _score(job, _held.known)


def _score_anywhere(jobs: Sequence[Job], *, path: Path, sha256: str, known: frozenset[str]) -> list[Block]:
    _scorer(path, sha256)
    return [_score(job, known) for job in jobs]


def _scorer(path: Path, sha256: str) -> None:
    """Make the scorer of a campaign, unless it is the one held already."""
    if getattr(_held, "sha256", None) == sha256:
        return
    campaign = load_campaign(path)
    if campaign.sha256 != sha256:
        raise SettingsError(
            "the file changed while it was being scored", where=str(path), remedy="score again"
        )
    _held.campaign, _held.scorer, _held.sha256 = campaign, BlockScorer(campaign), sha256


def _score(job: Job, known: frozenset[str]) -> Block:
    campaign, scorer = _held.campaign, _held.scorer
    block: Block = scorer.score(campaign.load_case(job[0]), campaign.release(job[1]), known)
    return block


@short_repr
@dataclass(slots=True)
class CampaignScores:
    """Everything that came of scoring a campaign.

    Attributes
    ----------
    records
        One a rated pair, in the order of the file.
    unrated
        Pairs that could not be rated, with the reason.
    unpaired
        Channels in the data that are in no pair.
    new, reused
        How many pairs were rated now, and how many were known.
    evidence
        What the ratings of each load case and release stand on.
    """

    records: Sequence[PairRecord] = ()
    unrated: list[Unrated] = field(default_factory=list)
    unpaired: list[Unpaired] = field(default_factory=list)
    new: int = 0
    reused: int = 0
    evidence: list[CaseEvidence] = field(default_factory=list)

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row a rated pair.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        return frame(row(record) for record in self.records)


def score_campaign(
    campaign: Campaign,
    *,
    releases: Sequence[str] = (),
    known: Mapping[str, PairRecord] | None = None,
    keep: Keep | None = None,
    progress: Progress | None = None,
    workers: int | None = None,
    engine: Engine | None = None,
) -> CampaignScores:
    """Rate all pairs of some or all releases.

    Parameters
    ----------
    campaign
        The campaign.
    releases
        Names; all when empty.
    known
        Records by key that need not be rated again.
    keep
        Called with the new records of each block, which may be none, and with the evidence of the block as
        soon as they are there, so that a stop loses little.
    progress
        Called with the number of finished blocks and of all blocks.
    workers
        Processes on this machine; as many as cores when left out.
    engine
        Who rates, from :mod:`correlate.campaign.scoring`; those processes when left out.

    Returns
    -------
    CampaignScores

    Raises
    ------
    SettingsError
        A release is unknown.
    FormatError
        A load case names tests that are not there.
    """
    held = {} if known is None else known
    names = [campaign.release(name).name for name in releases] or [one.name for one in campaign.releases]
    for load_case in campaign.load_cases:
        campaign.test_paths(load_case)
    jobs = [(load_case.name, name) for load_case in campaign.load_cases for name in names]
    found: dict[tuple[str, str], CampaignScores] = {}
    for job, block in (engine or local_engine(workers))(campaign, jobs, frozenset(held)):
        found[job] = _scores(block, held)
        # A known rating is kept again where it belongs to another pair now.
        fresh = [record for record in found[job].records if held.get(record.key) != record]
        if keep is not None:
            keep(fresh, found[job].evidence[0])
        if progress is not None:
            progress(len(found), len(jobs))
    order = [(load_case.name, name) for name in names for load_case in campaign.load_cases]
    return _gathered(found[job] for job in order)


def _scores(block: Block, held: Mapping[str, PairRecord]) -> CampaignScores:
    """Put known ratings in their places, under the names and inputs of this campaign."""
    scores = CampaignScores(unrated=block.unrated, unpaired=block.unpaired, reused=block.skipped)
    records = []
    for pair in block.pairs:
        if isinstance(pair, Known):
            scores.reused += 1
            records.append(replace(held[pair.key], **asdict(pair.names), inputs=pair.inputs))
        else:
            scores.new += 1
            records.append(pair)
    scores.records = records
    scores.evidence = [with_flags(block.evidence, records)]
    return scores


def _gathered(parts: Iterable[CampaignScores]) -> CampaignScores:
    scores = CampaignScores()
    records: list[PairRecord] = []
    for part in parts:
        records += part.records
        scores.unrated += part.unrated
        scores.unpaired += [entry for entry in part.unpaired if entry not in scores.unpaired]
        scores.new += part.new
        scores.reused += part.reused
        scores.evidence += part.evidence
    scores.records = records
    return scores
