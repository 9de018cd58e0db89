"""The context of a job: its project, its arguments, and progress reporting."""

from __future__ import annotations

from dataclasses import dataclass, field
from threading import Event
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from dashboard.jobs.records import JobRecords


class Cancelled(Exception):  # noqa: N818 - nothing went wrong
    """Somebody wants the job to end."""


class Interrupted(Exception):  # noqa: N818 - nothing went wrong with the job
    """The worker ends."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Place:
    """Where a worker does its jobs.

    Attributes
    ----------
    project
        Folder that holds ``campaign.toml``.
    store
        Results store: a file or URL; the file beside the campaign when empty.
    processes
        That one job may use.
    """

    project: Path
    store: str = ""
    processes: int = 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Work:
    """One job, as the function that does it sees it.

    Attributes
    ----------
    number
        Of the job.
    who
        Name of the account that started it.
    arguments
        What exactly is wanted.
    place
        Where it is done.
    """

    number: str
    who: str
    arguments: Mapping[str, Any]
    place: Place
    records: JobRecords
    stopping: Event = field(default_factory=Event)

    def progress(self, done: float, words: str) -> None:
        """Say how far the job is; here it also learns that it must end.

        Parameters
        ----------
        done
            From 0 to 1.
        words
            What is being done.

        Raises
        ------
        Cancelled
            Somebody wants the job to end.
        Interrupted
            The worker ends.
        """
        if self.stopping.is_set():
            raise Interrupted
        if self.records.find(self.number).cancelling:
            raise Cancelled
        self.records.go_on(self.number, done, words)

    def blocks(self, words: str) -> Callable[[int, int], None]:
        """Return a function that turns "so many of so many" into progress.

        Parameters
        ----------
        words
            What is being done.

        Returns
        -------
        callable
        """
        return lambda done, total: self.progress(done / total, f"{words}, {done} of {total}")
