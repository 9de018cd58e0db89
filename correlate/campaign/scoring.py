"""Scoring a campaign: block after block, here, in other processes or through a scheduler."""

from __future__ import annotations

import gc
import hashlib
import os
import platform
import threading
import time
from collections import Counter, deque
from collections.abc import Callable, Hashable, Iterable, Iterator, Sequence
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from contextlib import ExitStack, contextmanager
from dataclasses import asdict, dataclass, field, replace
from typing import TYPE_CHECKING, Any, Final, Protocol

from correlate.campaign.block import Block, BlockScorer, Known
from correlate.campaign.delivery import Delivery, FirstHalf, Job, Saving, deliver, saving_by, together
from correlate.display import frame, row, short_repr
from correlate.errors import CorrelateError, SettingsError
from correlate.evaluation.definition import Campaign, load_campaign
from correlate.evaluation.evidence import InputStates, Unpaired, Unrated, with_flags
from correlate.parallel import (
    WORKERS,
    given_up,
    has_result,
    libraries,
    scheduled,
    scheduler_client,
    share_out,
    without_working_folder,
)

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from pandas import DataFrame

    from correlate.campaign.delivery import Keep
    from correlate.evaluation.evidence import CaseEvidence
    from correlate.evaluation.record import PairRecord

    Progress = Callable[[int, int], None]


class Named(Protocol):
    """Names of a repeat with a rating, in whatever release.

    Attributes
    ----------
    load_case, channel, repeat
        Names.
    """

    @property
    def load_case(self) -> str:
        """Name of the load case."""

    @property
    def channel(self) -> str:
        """Name of the channel."""

    @property
    def repeat(self) -> str:
        """Name of the repeat."""


class Rated(Named, Protocol):
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
    def overall(self) -> float:
        """Rating in [0, 1]."""

    @property
    def ingredients(self) -> Mapping[str, Any]:
        """Raw values behind the scores."""


Rate = Callable[[Job], Delivery]
"""Rates one block."""

Engine = Callable[[Campaign, Sequence[Job], frozenset[str], FirstHalf], Iterator[Delivery]]
"""Campaign, blocks, keys of known ratings and half of saving in; blocks out, in any order."""


LARGEST_BUNDLE: Final = 8
"""Most blocks that a scheduler is given as one task; a lost worker costs that many at most."""
START_S: Final = 2.0
"""Processor time that the start of a process beside this one takes, s (measured, rounded up) …"""
WORTH_S: Final = 3 * START_S
"""… and the work that must be left for each of them, s: less work does not repay the start."""


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

    def __len__(self) -> int:
        """Return how many blocks wait."""
        return sum(map(len, self._by_load_case.values()))

    def _least_crowded(self) -> str:
        """Return the load case with the most waiting blocks for each worker that is at it."""
        workers = Counter(self._at.values())
        return max(self._by_load_case, key=lambda name: len(self._by_load_case[name]) / (1 + workers[name]))


def one_process(
    campaign: Campaign, jobs: Sequence[Job], known: frozenset[str], first: FirstHalf
) -> Iterator[Delivery]:
    """Rate block after block here."""
    return map(_rater(campaign, known, first), jobs)


def _rater(campaign: Campaign, known: frozenset[str], first: FirstHalf) -> Rate:
    """Return what rates block after block here, and remembers the tests it read last."""
    scorer = BlockScorer(campaign)

    def rate(job: Job) -> Delivery:
        block = scorer.score(campaign.load_case(job[0]), campaign.release(job[1]), known)
        return deliver([job], [block], first)

    return rate


class WorkLeft:
    """Estimates the remaining processor time from the block that this process rated last.

    Examples
    --------
    >>> left = WorkLeft()
    >>> left.note(0.8)  # with loading of compiled code
    >>> left.of(20)
    0.0
    >>> left.note(0.25)
    >>> left.of(20)
    5.0
    """

    def __init__(self) -> None:
        self._block_s: float | None = None

    def note(self, block_s: float) -> None:
        """Record the processor time of a block, s. The first one includes loading, which happens once."""
        self._block_s = max(0.0, block_s - START_S) if self._block_s is None else block_s

    def of(self, blocks: int) -> float:
        """Return the estimate for a number of blocks, s; 0 before the first one."""
        return blocks * (self._block_s or 0.0)


def local_engine(workers: int | None = None) -> Engine:
    """Return an engine that rates in this process and in further ones.

    This process has its libraries loaded, so it begins while the others start. If their number is left out,
    they start only if there is enough work left for them.
    """

    def engine(
        campaign: Campaign, jobs: Sequence[Job], known: frozenset[str], first: FirstHalf
    ) -> Iterator[Delivery]:
        count = min(workers or os.cpu_count() or 1, len(jobs))
        if count <= 1:
            yield from one_process(campaign, jobs, known, first)
            return
        waiting, left = WaitingJobs(jobs), WorkLeft()

        def take(worker: int) -> Job | None:
            # The last one is this process; each of the others starts only if enough work is left for it.
            least_s = 0.0 if workers is not None or worker == count - 1 else (worker + 1) * WORTH_S
            return waiting.take(worker) if left.of(len(waiting)) >= least_s else None

        with ExitStack() as started:
            here = _timed(_rater(campaign, known, first), left)
            crew = [*_workers(count, campaign, started, known=known, first=first, here=here)]
            for _, delivered in share_out(take, crew, ahead=1):
                yield delivered

    return engine


def _timed(rate: Rate, left: WorkLeft) -> Rate:
    """Return a function that rates, and records the processor time of each block."""

    def timed(job: Job) -> Delivery:
        start = time.thread_time()
        delivered = rate(job)
        left.note(time.thread_time() - start)
        return delivered

    return timed


def _workers(
    count: int,
    campaign: Campaign,
    started: ExitStack,
    *,
    known: frozenset[str],
    first: FirstHalf,
    here: Rate,
) -> Iterator[tuple[Executor, Rate]]:
    """Return the workers: others, whose processes start with their first block, then one in this process."""
    # A package of this name in a received project folder must not run.
    started.enter_context(without_working_folder())
    for _ in range(count - 1):
        beside = ProcessPoolExecutor(
            1,
            mp_context=WORKERS,
            initializer=_begin,
            initargs=(campaign.path, campaign.sha256, known, first),
        )
        started.callback(beside.shutdown, wait=True, cancel_futures=True)
        yield beside, _score_begun
    thread = ThreadPoolExecutor(1)
    # After Ctrl-C nobody waits for the block it is at, which would be thrown away.
    started.push(
        lambda kind, *_: thread.shutdown(
            wait=kind is None or issubclass(kind, Exception), cancel_futures=True
        )
    )
    yield thread, here


def dask_engine(address: str) -> Engine:
    """Return an engine that submits blocks to an existing scheduler.

    The key of a task is the hash of what it computes. If a program submits a task that the scheduler already
    has, from this or another program, it receives the result of that task.
    """

    def engine(
        campaign: Campaign, jobs: Sequence[Job], known: frozenset[str], first: FirstHalf
    ) -> Iterator[Delivery]:
        with scheduler_client(address) as client:
            # Once for each worker, not once for each task.
            (shared,) = client.scatter([known], broadcast=True, hash=False)
            ours = libraries()
            common = (str(campaign.path), campaign.sha256, ours, first.scope, _hash_of(sorted(known)))
            bundles = (_bundle(campaign, part, common) for part in _bundles(jobs, len(client.nthreads())))
            settings = {
                "path": campaign.path,
                "sha256": campaign.sha256,
                "known": shared,
                "first": first,
                "libraries_there": ours,
            }
            for ended in scheduled(client, _score_anywhere, bundles, key=_key_of, **settings):
                yield from _deliveries_of(ended)

    return engine


@dataclass(frozen=True, slots=True)
class _Bundle:
    """A task of a scheduler: some blocks of one load case, and the state of the inputs of each."""

    jobs: Sequence[Job]
    states: Sequence[str]
    key: str


def _bundle(campaign: Campaign, jobs: Sequence[Job], common: tuple[Any, ...]) -> _Bundle:
    # The tests are the same for all blocks of a task; their state is determined once.
    inputs = InputStates(campaign)
    states = [
        inputs.of(campaign.release(release), campaign.load_case(load_case)) for load_case, release in jobs
    ]
    return _Bundle(jobs, states, f"blocks-{_hash_of((common, jobs, states))}")


def _key_of(bundle: _Bundle) -> str:
    return bundle.key


def _hash_of(parts: object) -> str:
    return hashlib.sha256(repr(parts).encode()).hexdigest()


def _bundles(jobs: Sequence[Job], workers: int) -> Iterator[Sequence[Job]]:
    """Cut into tasks of a few blocks of one load case: a scheduler spends milliseconds on a task of any size.

    They become smaller towards the end, so that the workers end together.
    """
    start = 0
    while start < len(jobs):
        size = max(1, min(LARGEST_BUNDLE, (len(jobs) - start) // (2 * max(1, workers))))
        load_case = jobs[start][0]
        bundle = [job for job in jobs[start : start + size] if job[0] == load_case]
        yield bundle
        start += len(bundle)


def _deliveries_of(ended: Iterable[tuple[_Bundle, Any]]) -> Iterator[Delivery]:
    """Yield the results of tasks as one delivery; if a task failed, those before it, and raise its error."""
    found: list[Delivery] = []
    refused: CorrelateError | None = None
    for bundle, future in ended:
        try:
            found.append(_delivery_of(future, bundle))
        except CorrelateError as error:
            refused = error
            break
    if found:
        yield together(found)
    if refused is not None:
        raise refused


def _delivery_of(future: Any, bundle: _Bundle) -> Delivery:
    load_case, release = bundle.jobs[0]
    where = f"load case '{load_case}' of release '{release}'"
    if has_result(future):
        found: Delivery
        task, found = future.result()
        if task != bundle.key:
            raise SettingsError(
                "a worker returned the result of another task",
                where=where,
                remedy="score again; finished ratings are saved; if it happens again, restart the scheduler "
                "and its workers",
            )
        if [block.evidence.state for block in found.blocks] != bundle.states:
            raise SettingsError(
                "a worker read other files than this program did",
                where=where,
                remedy="if a file has changed, score again; otherwise give all machines the same files",
            )
        return found
    error = future.exception()
    if isinstance(error, CorrelateError):
        raise error
    raise SettingsError(
        given_up(future),
        where=where,
        remedy="see the logs of its workers; finished ratings are saved; score again to continue",
    )


# What a worker holds between blocks; one per thread, because a scorer remembers the tests it read last.
_held = threading.local()


def _begin(path: Path, sha256: str, known: frozenset[str], first: FirstHalf) -> None:
    _scorer(path, sha256)
    _held.known, _held.first = known, first
    # As in `_without_older_objects`, but for the whole life of this process: it does nothing else.
    gc.freeze()


def _score_begun(job: Job) -> Delivery:
    return deliver([job], [_score(job, _held.known)], _held.first)


def _score_anywhere(
    bundle: _Bundle,
    *,
    path: Path,
    sha256: str,
    known: frozenset[str],
    first: FirstHalf,
    libraries_there: dict[str, str],
) -> tuple[str, Delivery]:
    _refuse_other(libraries_there)
    _scorer(path, sha256)
    return bundle.key, deliver(bundle.jobs, [_score(job, known) for job in bundle.jobs], first)


def _refuse_other(wanted: dict[str, str]) -> None:
    """Refuse to rate with other libraries than the program that asks: the numbers might differ."""
    here = libraries()
    other = [name for name in {**wanted, **here} if wanted.get(name) != here.get(name)]
    if other:
        name = other[0]
        raise SettingsError(
            f"a worker has {name} {here.get(name, '(none)')}, this program {wanted.get(name, '(none)')}",
            where=f"worker on {platform.node()}",
            remedy="install the same versions on all machines, and start the workers again",
        )


def _scorer(path: Path, sha256: str) -> None:
    """Make the scorer of a campaign, unless it is the one held already."""
    # A copy of a project has the same campaign file, but may have other recordings.
    if getattr(_held, "project", None) == (path, sha256):
        # It may have been held since an earlier run.
        _held.campaign.objects.look_again()
        return
    campaign = load_campaign(path)
    if campaign.sha256 != sha256:
        raise SettingsError(
            "the file changed while it was being scored", where=str(path), remedy="score again"
        )
    _held.campaign, _held.scorer, _held.project = campaign, BlockScorer(campaign), (path, sha256)


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
        The evidence behind the ratings of each load case and release.
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


@contextmanager
def _without_older_objects() -> Iterator[None]:
    """Exclude the objects that already exist from garbage collection while the context is active.

    Creating records of thousands of pairs starts full collections, which would search all libraries, too.
    """
    if gc.get_freeze_count():
        yield  # objects are frozen already; `unfreeze` would release them, too
        return
    gc.freeze()
    try:
        yield
    finally:
        gc.unfreeze()


@_without_older_objects()
def score_campaign(
    campaign: Campaign,
    *,
    releases: Sequence[str] = (),
    known: Mapping[str, PairRecord] | None = None,
    keep: Keep | None = None,
    saving: Saving | None = None,
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
        soon as they are available, so that little is lost if scoring is stopped.
    saving
        How new ratings are saved, instead of by `keep`; records that it saves are not returned.
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
    saving = saving or saving_by(keep)
    found: dict[Job, CampaignScores] = {}
    for delivered in (engine or local_engine(workers))(campaign, jobs, frozenset(held), saving.first):
        saving.finish(delivered.prepared)
        for job, block in zip(delivered.jobs, delivered.blocks, strict=True):
            found[job] = _scores(block, held, saving)
            if progress is not None:
                progress(len(found), len(jobs))
    order = [(load_case.name, name) for name in names for load_case in campaign.load_cases]
    return _gathered(found[job] for job in order)


def _scores(block: Block, held: Mapping[str, PairRecord], saving: Saving) -> CampaignScores:
    """Put known ratings in their places, under the names and inputs of this campaign."""
    scores = CampaignScores(
        unrated=block.unrated, unpaired=block.unpaired, new=block.saved, reused=block.skipped
    )
    records = []
    for pair in block.pairs:
        if isinstance(pair, Known):
            scores.reused += 1
            records.append(replace(held[pair.key], **asdict(pair.names), inputs=pair.inputs))
        else:
            scores.new += 1
            records.append(pair)
    scores.records = records
    evidence = block.evidence if block.saved else with_flags(block.evidence, records)
    scores.evidence = [evidence]
    if not block.is_new:
        # A known rating is saved again where it belongs to another pair now.
        saving.save([record for record in records if held.get(record.key) != record], evidence)
        if saving.first.keeps:
            scores.records = []
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
