"""Does jobs for the tests: in this process one by one, or in a worker of its own."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from dashboard.jobs import Jobs
from dashboard.jobs.queue import JobQueue
from dashboard.jobs.records import JobRecords
from dashboard.jobs.running import Runner
from dashboard.jobs.work import Place

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

PATIENCE_S = 30


@dataclass(frozen=True)
class Desk:
    """Jobs and who does them, in one process."""

    jobs: Jobs
    records: JobRecords
    runner: Runner
    queue: JobQueue

    def do_next(self) -> None:
        """Do the job that has waited longest."""
        task = self.queue.huey.dequeue()
        assert task is not None
        self.queue.huey.execute(task)


def desk(project: Path, folder: Path) -> Desk:
    """Return jobs over a project, done one by one in this process."""
    jobs, records = Jobs(folder), JobRecords(folder)
    runner = Runner(records=records, place=Place(project=project))
    return Desk(jobs, records, runner, JobQueue(folder, runner.run))


def until(true: Callable[[], bool]) -> None:
    """Look again and again, for what another process does."""
    end = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < end, "it did not happen"
        # Lets the other process have the core; nothing depends on for how long.
        time.sleep(0.02)
