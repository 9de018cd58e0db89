"""Running design points through a Dask scheduler that is there already.

Only paths and decks travel: scheduler, workers and this program must see the project under the same path.
"""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any, Final

from correlate.errors import SettingsError
from correlate.tuning.running import run_job, waiting

if TYPE_CHECKING:
    from collections.abc import Generator, Sequence

    from correlate.tuning.local_engine import Engine
    from correlate.tuning.record import RunRecord
    from correlate.tuning.running import RunJob

PATIENCE_S: Final = 10
"""How long a scheduler may take to answer. Chosen here."""


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
        Dask is not installed.
    """
    try:
        distributed: Any = import_module("distributed")  # slow, and an extra
    except ImportError as error:
        raise SettingsError(
            "the engine 'dask' needs a library that is not installed",
            remedy="install the extra 'scale', or use the engine 'local'",
        ) from error

    def engine(jobs: Sequence[RunJob]) -> Generator[RunRecord]:
        try:
            client = distributed.Client(address, timeout=PATIENCE_S, set_as_default=False)
        except (OSError, TimeoutError, ValueError) as error:
            raise SettingsError(
                f"no scheduler answers at {address}",
                remedy="start it, and give its address with --scheduler",
            ) from error
        with client:
            # pure=False: the same deck in the same folder may have to be run again.
            futures = client.map(run_job, list(jobs), pure=False, retries=0)
            by_future = dict(zip(futures, jobs, strict=True))
            try:
                for future in distributed.as_completed(futures, loop=client.loop):
                    yield _record_of(future, by_future[future])
            finally:
                client.cancel([future for future in futures if not future.done()])

    return engine


def _record_of(future: Any, job: RunJob) -> RunRecord:
    """Return what came back; a run whose worker was lost is still to be run, and does not stop the others."""
    if future.status == "finished":
        record: RunRecord = future.result()
        return record
    return waiting(job, f"the scheduler gave it up: {future.exception() or future.status}")
