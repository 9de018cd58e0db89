"""Where the blocks of a campaign are rated: in this process, in other processes, or by a scheduler's workers.

An engine takes blocks by name and yields them as they are finished. Only the path of the campaign file and
the keys of known ratings travel to a worker; it reads the data itself, and what comes back are ratings.
"""

from __future__ import annotations

import multiprocessing
import os
import threading
from collections import Counter, deque
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import ExitStack
from typing import TYPE_CHECKING, Any, Final

from correlate.campaign.block import Block, BlockScorer
from correlate.errors import SettingsError
from correlate.evaluation.definition import Campaign, load_campaign
from correlate.parallel import given_up, scheduled, scheduler_client, share_out

if TYPE_CHECKING:
    from pathlib import Path

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

    Parameters
    ----------
    jobs
        In the order wanted.

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
        """Return the next block for a worker.

        Parameters
        ----------
        worker
            Whoever asks.

        Returns
        -------
        Job or None
            None when nothing waits any more.
        """
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
    """Rate block after block here.

    Parameters
    ----------
    campaign, jobs, known
        As every engine.

    Yields
    ------
    tuple
        The job and its block.
    """
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

    Parameters
    ----------
    workers
        How many, this process among them; as many as cores when left out. With 1, everything happens in
        this process.

    Returns
    -------
    Engine
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
    for _ in range(count - 1):
        beside = ProcessPoolExecutor(
            1,
            mp_context=multiprocessing.get_context("spawn"),
            initializer=_begin,
            initargs=(campaign.path, campaign.sha256, known),
        )
        started.callback(beside.shutdown, wait=True, cancel_futures=True)
        yield beside, _score_begun
    here = ThreadPoolExecutor(1)
    started.callback(here.shutdown, wait=True, cancel_futures=True)
    yield here, _rater(campaign, known)


def dask_engine(address: str) -> Engine:
    """Return an engine that hands blocks to a scheduler that is there already.

    Parameters
    ----------
    address
        Of the scheduler, such as ``tcp://10.0.0.1:8786``. Its workers see the project under the same path.

    Returns
    -------
    Engine
        A block whose worker is lost is rated again by another; what has come back before stays.

    Raises
    ------
    SettingsError
        From the engine: nothing answers, or the scheduler gave a block up.
    """

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
    if future.status == "finished":
        blocks: list[Block] = future.result()
        return blocks
    raise SettingsError(
        given_up(future),
        where=f"load case '{jobs[0][0]}' of release '{jobs[0][1]}'",
        remedy="see the logs of its workers; finished ratings are saved; score again to continue",
    )


# What a worker holds between blocks; one a thread, because a scorer remembers the tests it read last.
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
