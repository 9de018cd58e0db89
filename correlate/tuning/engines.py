"""Who runs design points: this machine, several at a time, or a Dask scheduler that is there already.

Only paths and decks travel: scheduler, workers and this program must see the project under the same path.
"""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from functools import partial
from typing import TYPE_CHECKING, Any

from correlate.errors import SettingsError
from correlate.parallel import given_up, scheduled, scheduler_client, share_out
from correlate.tuning.running import run_job, waiting

if TYPE_CHECKING:
    from collections.abc import Callable, Generator, Sequence

    from correlate.tuning.record import RunRecord
    from correlate.tuning.running import RunJob

    Engine = Callable[[Sequence[RunJob]], Generator[RunRecord]]


def local_engine(at_once: int) -> Engine:
    """Return an engine of threads, each waiting for a process.

    Parameters
    ----------
    at_once
        Processes at a time.

    Returns
    -------
    Engine
        Yields records as runs end. Closed early, it ends the processes, and their runs count as never begun.

    Raises
    ------
    SettingsError
        Fewer than one at a time.
    """
    if at_once < 1:
        raise SettingsError(f"{at_once} runs at once never end", remedy="give 1 or more")

    def engine(jobs: Sequence[RunJob]) -> Generator[RunRecord]:
        stop = threading.Event()
        waiting_jobs = iter(jobs)
        with ExitStack() as started:
            # Last in, first called: the processes are told to stop before anybody waits for them.
            pools = [
                started.enter_context(ThreadPoolExecutor(1, f"run {number}"))
                for number in range(min(at_once, len(jobs)))
            ]
            started.callback(stop.set)
            workers = [(pool, partial(run_job, stop=stop)) for pool in pools]
            for _, record in share_out(lambda _: next(waiting_jobs, None), workers, ahead=0):
                yield record

    return engine


def dask_engine(address: str) -> Engine:
    """Return an engine that hands runs to a scheduler; its workers decide how many run at once.

    Parameters
    ----------
    address
        Of the scheduler, such as ``tcp://10.0.0.1:8786``.

    Returns
    -------
    Engine
        Yields records as runs end. Closed early, runs that have not begun are withdrawn; those that have
        begun go on, and their records are found by the next start.

    Raises
    ------
    SettingsError
        From the engine: Dask is not installed, or nothing answers.
    """

    def engine(jobs: Sequence[RunJob]) -> Generator[RunRecord]:
        with scheduler_client(address) as client:
            for job, future in scheduled(client, run_job, list(jobs)):
                yield _record_of(future, job)

    return engine


def _record_of(future: Any, job: RunJob) -> RunRecord:
    """Return what came back; a run whose worker was lost is still to be run, and does not stop the others."""
    if future.status == "finished":
        record: RunRecord = future.result()
        return record
    return waiting(job, given_up(future))
