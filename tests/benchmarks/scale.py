"""How long a million pairs take with many workers: service times measured here, the rest simulated.

In the simulation, workers rate blocks side by side; the file system delivers one file after the other; the
program, with its scheduler, does one thing at a time. Its result is compared with real runs through a
scheduler whose workers wait as long as rating takes: many of them fit on few cores, and the program has all
of its work.
"""

from __future__ import annotations

import hashlib
import heapq
import os
import pickle
import tempfile
import time
from collections import deque
from dataclasses import dataclass, replace
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from correlate import RunInfo, load_campaign, open_store
from correlate.campaign import score_campaign
from correlate.campaign.scoring import LARGEST_BUNDLE
from correlate.parallel import scheduled, scheduler_client
from correlate.store.packing import hash_bytes
from correlate.store.ratings import BlockRows
from correlate.store.rows import ChunkRows
from correlate.store.saving import rows_of, saving_into
from correlate.store.tables import ENTRIES, written
from tests.benchmarks.campaign import SMALL_BLOCKS, write_project

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from correlate.campaign.delivery import NewRatings

    Rows = list[BlockRows]

PAIRS: Final = 1_000_000
PAIRS_OF_A_BLOCK: Final = 125
AHEAD: Final = 4
LEAST_AHEAD: Final = 64
"""Tasks that the scheduler has at a time, as in `correlate.parallel`."""
WORKERS: Final = (1, 2, 4, 8, 16, 32, 64, 100, 200)
WAITING: Final = (8, 16, 32)
"""Workers in the real runs."""
TASKS_OF_A_RUN: Final = 64
FILE_BYTES: Final = 400_000
"""Of the result that a block reads."""
FILE_RATES: Final = (float("inf"), 100e6)
"""Bytes per second that the file system delivers to all workers together."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Times:
    """Service times in s.

    Attributes
    ----------
    block
        Of a worker, for a block: reading, rating and the first half of saving.
    task
        Of program and scheduler, for a task without content.
    carried
        Of program and scheduler, for the rows of a block on their way.
    inserted
        Of the program, for inserting the rows of a block; 0 where workers insert into a server.
    """

    block: float
    task: float
    carried: float
    inserted: float

    @property
    def program(self) -> float:
        """Of the program, for a block in a full task."""
        return self.task / LARGEST_BUNDLE + self.carried + self.inserted


def simulated_s(times: Times, workers: int, *, blocks: int, file_rate: float = float("inf")) -> float:
    """Return the seconds until all blocks are saved.

    Parameters
    ----------
    times
        Service times.
    workers
        How many.
    blocks
        To be rated, in full tasks.
    file_rate
        Of the file system, bytes per second.
    """
    waiting = deque([LARGEST_BUNDLE] * (blocks // LARGEST_BUNDLE))
    ahead = min(len(waiting), max(LEAST_AHEAD, AHEAD * workers))
    # A submission and a receipt take half of the time of a task each.
    half = times.task / 2
    program = disk = 0.0
    idle = [0.0] * workers
    running: list[tuple[float, int]] = []

    def start(at: float) -> None:
        nonlocal disk
        size = waiting.popleft()
        begun = max(at, heapq.heappop(idle))
        # A worker reads the file of a block when it comes to it; the file system serves all in turn.
        disk = max(disk, begun) + size * FILE_BYTES / file_rate
        ended = max(begun + size * times.block, disk)
        heapq.heappush(idle, ended)
        heapq.heappush(running, (ended, size))

    for _ in range(ahead):
        program += half
        start(program)
    while running:
        ended, size = heapq.heappop(running)
        program = max(program, ended) + half + size * (times.carried + times.inserted)
        if waiting:
            program += half
            start(program)
    return program


def bottleneck(times: Times, workers: int, file_rate: float) -> str:
    """Return the station that has the most to do per block.

    Parameters
    ----------
    times
        Service times.
    workers
        How many.
    file_rate
        Of the file system, bytes per second.
    """
    load = {
        "workers": times.block / workers,
        "program": times.program,
        "file system": FILE_BYTES / file_rate,
    }
    return max(load, key=lambda name: load[name])


def report() -> Iterator[str]:
    """Measure, compare the simulation with runs through a scheduler, and predict."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        ratings, block_s = _rated(folder)
        runs = [*_runs(folder, rows_of(ratings[:LARGEST_BUNDLE]), block_s)]
    # The least disturbed run of each kind. The program spends its time on inserting, and the rest on tasks.
    bare = min((one for one in runs if not one.rows), key=lambda one: one.program_s)
    full = min((one for one in runs if one.rows), key=lambda one: one.program_s)
    blocks = TASKS_OF_A_RUN * LARGEST_BUNDLE
    file = Times(
        block=block_s,
        task=bare.program_s / TASKS_OF_A_RUN,
        carried=max(0.0, full.program_s - full.inserting_s - bare.program_s) / blocks,
        inserted=full.inserting_s / blocks,
    )
    server = replace(file, carried=0.0, inserted=0.0)
    for title, seconds in (
        ("worker, per pair", file.block),
        (
            f"program, inserting the first {blocks * PAIRS_OF_A_BLOCK:,} pairs of a file, per pair",
            file.inserted,
        ),
        ("program and scheduler, receiving rows, per pair", file.carried),
        ("program and scheduler, a task, per pair", file.task / LARGEST_BUNDLE),
    ):
        yield f"{title}: {seconds / PAIRS_OF_A_BLOCK * 1e6:.1f} µs of processor time"
    yield from _compared(runs, file, server)
    yield from _predicted(file, server)


def _compared(runs: Sequence[Run], file: Times, server: Times) -> Iterator[str]:
    yield "\n| waiting workers | rows | run (s) | simulated (s) | error |"
    yield "| ---: | --- | ---: | ---: | ---: |"
    for one in runs:
        times = file if one.rows else server
        simulated = simulated_s(times, one.workers, blocks=TASKS_OF_A_RUN * LARGEST_BUNDLE)
        yield (
            f"| {one.workers} | {'yes' if one.rows else 'no'} | {one.elapsed_s:.2f} | {simulated:.2f} "
            f"| {simulated / one.elapsed_s - 1:+.0%} |"
        )


def _predicted(file: Times, server: Times) -> Iterator[str]:
    yield f"\n{PAIRS:,} pairs, simulated:\n"
    yield "| workers | store | file system | seconds | of perfect | bottleneck |"
    yield "| ---: | --- | --- | ---: | ---: | --- |"
    blocks = PAIRS // PAIRS_OF_A_BLOCK
    for rate in FILE_RATES:
        for name, times in (("file", file), ("server", server)):
            for workers in WORKERS:
                seconds = simulated_s(times, workers, blocks=blocks, file_rate=rate)
                perfect = blocks * times.block / workers
                disk = "fast" if rate == float("inf") else f"{rate / 1e6:.0f} MB/s"
                yield (
                    f"| {workers} | {name} | {disk} | {seconds:.0f} | {perfect / seconds:.0%} "
                    f"| {bottleneck(times, workers, rate)} |"
                )


def _rated(folder: Path) -> tuple[list[NewRatings], float]:
    """Rate a few blocks; return them and the processor time of a worker for one."""
    write_project(folder / "project", replace(SMALL_BLOCKS, load_cases=1, releases=2 * LARGEST_BUNDLE))
    campaign = load_campaign(folder / "project")
    ratings: list[NewRatings] = []
    # The first blocks pay for the libraries.
    score_campaign(campaign, releases=["B0"], workers=1)
    start = time.process_time()
    score_campaign(campaign, keep=lambda *told: ratings.append(told), workers=1)
    rows_of(ratings)
    return ratings, (time.process_time() - start) / len(ratings)


@dataclass(frozen=True, slots=True, kw_only=True)
class Run:
    """A run through a scheduler whose workers wait.

    Attributes
    ----------
    workers
        How many.
    rows
        Whether they returned rows, which the program inserted.
    elapsed_s, program_s
        Elapsed, and processor time of program and scheduler.
    inserting_s
        Processor time of inserting, included in ``program_s``.
    """

    workers: int
    rows: bool
    elapsed_s: float
    program_s: float
    inserting_s: float


def _runs(folder: Path, template: Rows, block_s: float) -> Iterator[Run]:
    distributed: Any = import_module("distributed")  # slow, and an extra
    surroundings = dict(os.environ)
    packed = pickle.dumps(template)
    for workers in WAITING:
        # Threads that wait are as good as processes, and start at once.
        with (
            distributed.LocalCluster(
                n_workers=2, threads_per_worker=workers // 2, dashboard_address=":0", silence_logs=50
            ) as cluster,
            scheduler_client(cluster.scheduler_address) as client,
        ):
            (shared,) = client.scatter([packed], broadcast=True)
            # A worker loads its libraries before the clock starts.
            client.run(_wait, "first", packed=packed, rows=True, seconds=0.0)
            for rows in (False, True):
                yield _run(folder, client, shared, workers=workers, rows=rows, block_s=block_s)
    # The cluster leaves settings of the memory allocator behind, for all processes started later.
    os.environ.clear()
    os.environ.update(surroundings)


def _run(folder: Path, client: Any, shared: Any, *, workers: int, rows: bool, block_s: float) -> Run:
    names = [f"{workers}-{rows}-{number}" for number in range(TASKS_OF_A_RUN)]
    with open_store(folder / f"run-{workers}-{rows}.sqlite") as store:
        saving = saving_into(store, RunInfo.now(), saved=())
        start, spent, inserting = time.perf_counter(), time.process_time(), 0.0
        waiting = scheduled(client, _wait, names, packed=shared, rows=rows, seconds=LARGEST_BUNDLE * block_s)
        for ended in waiting:
            found = [future.result() for _, future in ended]
            begun = time.thread_time()
            saving.finish(found)
            inserting += time.thread_time() - begun
        elapsed, program = time.perf_counter() - start, time.process_time() - spent
    return Run(workers=workers, rows=rows, elapsed_s=elapsed, program_s=program, inserting_s=inserting)


def _wait(name: str, *, packed: bytes, rows: bool, seconds: float) -> Rows:
    """Wait as long as rating a task takes, and return rows that nobody else returns."""
    end = time.perf_counter() + seconds
    found = _renamed(pickle.loads(packed), name) if rows else []  # noqa: S301 - from this program
    time.sleep(max(0.0, end - time.perf_counter()))
    return found


def _renamed(template: Sequence[BlockRows], name: str) -> list[BlockRows]:
    """Return rows for other releases with other ratings."""
    return [_renamed_block(one, name) for one in template]


def _renamed_block(one: BlockRows, name: str) -> BlockRows:
    campaign, release, load_case = one.block
    release = f"{release}-{name}"
    keys = {key: hash_bytes(hashlib.sha256(key + name.encode()).hexdigest()) for key in one.rows.ratings}
    place = [column.name for column in written(ENTRIES)].index("rating_key")
    rows = ChunkRows(
        settings=one.rows.settings,
        inputs=one.rows.inputs,
        ratings={keys[key]: (keys[key], *row[1:]) for key, row in one.rows.ratings.items()},
        entries={
            (campaign, release, *pair[2:]): (
                None,
                campaign,
                release,
                *row[3:place],
                keys[row[place]],
                *row[place + 1 :],
            )
            for pair, row in one.rows.entries.items()
        },
    )
    aggregates = [(campaign, release, *row[2:]) for row in one.derived.aggregates]
    return BlockRows(
        (campaign, release, load_case),
        rows,
        (campaign, release, *one.evidence[2:]),
        replace(one.derived, aggregates=aggregates),
    )
