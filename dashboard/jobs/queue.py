"""The queue between the server and the worker."""

from __future__ import annotations

from typing import TYPE_CHECKING

from huey import SqliteHuey

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


class JobQueue:
    """Hands numbers of jobs to the worker; a number stays in the queue until a worker takes it.

    Parameters
    ----------
    folder
        That the records of the jobs are in.
    run
        What the worker does with a number; the server never calls it.
    """

    def __init__(self, folder: Path, run: Callable[[str], None] | None = None) -> None:
        self.huey = SqliteHuey("correlate", filename=str(folder / "queue.sqlite"), results=False)
        do = run or _left_to_the_worker

        def run_job(number: str) -> None:
            do(number)

        # Defined here for both sides, as the queue calls a task by module and name.
        self._task = self.huey.task()(run_job)

    def put(self, number: str) -> None:
        """Hand over a job.

        Parameters
        ----------
        number
            Of the job.
        """
        self._task(number)


def _left_to_the_worker(number: str) -> None:
    raise RuntimeError(f"job {number} was run without a worker")
