"""Running design points through a Dask scheduler that is there already.

Only paths and decks travel: scheduler, workers and this program must see the project under the same path.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from correlate.scheduler import scheduler_client
from correlate.tuning.running import run_job, waiting

if TYPE_CHECKING:
    from collections.abc import Generator, Sequence

    from correlate.tuning.local_engine import Engine
    from correlate.tuning.record import RunRecord
    from correlate.tuning.running import RunJob


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
            from distributed import as_completed  # noqa: PLC0415 - slow, and an extra: found missing above

            # pure=False: the same deck in the same folder may have to be run again.
            futures = client.map(run_job, list(jobs), pure=False, retries=0)
            by_future = dict(zip(futures, jobs, strict=True))
            try:
                for future in as_completed(futures, loop=client.loop):  # type: ignore[no-untyped-call]
                    yield _record_of(future, by_future[future])
            finally:
                client.cancel([future for future in futures if not future.done()])

    return engine


def _record_of(future: Any, job: RunJob) -> RunRecord:
    """Return what came back; a run whose worker was lost is still to be run, and does not stop the others."""
    if future.status == "finished":
        record: RunRecord = future.result()
        return record
    return waiting(job, f"the scheduler gave up: {future.exception() or future.status}")
