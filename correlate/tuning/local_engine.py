"""Running design points on this machine, several at a time."""

from __future__ import annotations

import threading
from concurrent.futures import ThreadPoolExecutor, as_completed
from typing import TYPE_CHECKING

from correlate.errors import SettingsError
from correlate.tuning.running import run_job

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
        raise SettingsError(f"{at_once} runs at a time are not possible", remedy="give 1 or more")

    def engine(jobs: Sequence[RunJob]) -> Generator[RunRecord]:
        stop = threading.Event()
        with ThreadPoolExecutor(at_once, thread_name_prefix="run") as pool:
            futures = [pool.submit(run_job, job, stop) for job in jobs]
            try:
                for future in as_completed(futures):
                    yield future.result()
            finally:
                stop.set()
                pool.shutdown(wait=True, cancel_futures=True)

    return engine
