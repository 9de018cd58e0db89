"""Does jobs for the tests: in this process one by one, or in a worker of its own."""

from __future__ import annotations

import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

from dashboard.jobs import Jobs
from dashboard.jobs.table import JobTable
from dashboard.jobs.worker import JobSettings, Worker

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

PATIENCE_S = 60


@dataclass(frozen=True)
class Desk:
    """Jobs and who does them, in one process."""

    jobs: Jobs
    table: JobTable
    worker: Worker

    def do_next(self) -> None:
        """Do the job that has waited longest."""
        assert self.worker.do_next()


def desk(project: Path, folder: Path) -> Desk:
    """Return jobs over a project, done one by one in this process."""
    table = JobTable(folder)
    return Desk(Jobs(folder), table, Worker(table=table, place=JobSettings(project=project)))


def until(true: Callable[[], bool]) -> None:
    """Look again and again, for what another process does."""
    end = time.monotonic() + PATIENCE_S
    while not true():
        assert time.monotonic() < end, "it did not happen"
        # Lets the other process have the core; nothing depends on for how long.
        time.sleep(0.02)
