"""The worker: takes jobs from the table, does them, and writes down how each ended."""

from __future__ import annotations

import logging
import os
import secrets
import socket
import time
from concurrent.futures import FIRST_EXCEPTION, ThreadPoolExecutor, wait
from contextlib import suppress
from dataclasses import dataclass, field
from threading import Event
from typing import TYPE_CHECKING, Any, Final

from correlate import CorrelateError
from dashboard.jobs.kinds import kind_of
from dashboard.jobs.leftovers import remove_leftovers, remove_parts, without_upload_folder
from dashboard.jobs.table import DiskFullError, result_text
from dashboard.server_settings import UploadsTable

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping
    from pathlib import Path

    from correlate.limits import Limits
    from dashboard.jobs.table import Claim, JobTable, Stage

WORKER_ENDED: Final = "The worker stopped before the job was finished."

FAULT: Final = "Internal error. See the server log."

BEAT_S: Final = 5.0
"""Between two heartbeats of a worker."""

SILENT_S: Final = 60.0
"""Without a heartbeat, after which a worker counts as dead."""

FULL_S: Final = 2.0
"""Between two attempts to write on a full disk."""

_IDLE_S: Final = 0.25
"""Between two looks for a job that waits."""

_LOG: Final = logging.getLogger("dashboard.jobs")


class Cancelled(Exception):  # noqa: N818 - nothing went wrong
    """Somebody wants the job to end."""


class Interrupted(Exception):  # noqa: N818 - nothing went wrong with the job
    """The worker ends, or the job is no longer its own."""


@dataclass(frozen=True, slots=True, kw_only=True)
class JobSettings:
    """Where a worker does its jobs.

    Attributes
    ----------
    project
        Folder that holds ``campaign.toml``.
    store
        Results store: a file or URL; the file beside the campaign when empty.
    processes
        That one job may use.
    uploads
        What the files in an upload may contain.
    """

    project: Path
    store: str = ""
    processes: int = 1
    uploads: Limits = field(default_factory=lambda: UploadsTable().limits)


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
    worker
        Who does it.
    """

    number: str
    who: str
    arguments: Mapping[str, Any]
    place: JobSettings
    worker: Worker

    def progress(self, done: float, words: str) -> None:
        """Report how far the job is, from 0 to 1; raise Cancelled or Interrupted where it must end."""
        if self.worker.stopping.is_set():
            raise Interrupted
        table = self.worker.table
        if not table.report(self.number, self.worker.name, done, words):
            if table.find(self.number).cancelling:
                raise Cancelled
            raise Interrupted

    def blocks(self, words: str) -> Callable[[int, int], None]:
        """Return a function that turns "so many of so many" into progress."""
        return lambda done, total: self.progress(done / total, f"{words}, {done} of {total}")


@dataclass(frozen=True, slots=True)
class LostJobs:
    """Finds running jobs whose worker is dead and marks them as failed.

    A worker is dead when its process is gone from this machine, or when its heartbeat did not change while it
    was watched for a minute. This needs no common clock, and nobody looks dead after the machine slept.
    """

    table: JobTable
    _seen: dict[Claim, float] = field(default_factory=dict)

    def give_up(self, own: str = "") -> bool:
        """Mark the jobs of all dead workers as failed, but never those of the worker that asks.

        Returns
        -------
        bool
            Whether there was one.
        """
        found = False
        now = time.monotonic()
        claims = [claim for claim in self.table.claims() if not own or claim.worker != own]
        since = {claim: self._seen.get(claim, now) for claim in claims}
        self._seen.clear()
        self._seen.update(since)
        for claim, first_seen in since.items():
            if process_is_gone(claim.worker) or now - first_seen > SILENT_S:
                self.table.give_up(claim, WORKER_ENDED)
                _LOG.warning("job %s was given up: its worker is gone", claim.number)
                found = True
        return found


@dataclass(frozen=True, slots=True, kw_only=True)
class Worker:
    """Does the jobs of a table; a process has one.

    Attributes
    ----------
    table
        Of the jobs.
    place
        Where they are done.
    name
        Of this worker among all: host, process, and a random part, since process numbers come again.
    stopping
        Set when the worker must end.
    """

    table: JobTable
    place: JobSettings
    name: str = field(
        default_factory=lambda: f"{socket.gethostname()}:{os.getpid()}:{secrets.token_urlsafe(6)}"
    )
    stopping: Event = field(default_factory=Event)
    _said_full: Event = field(default_factory=Event)

    def work(self, at_once: int) -> None:
        """Do jobs, so many at a time, until ``stopping`` is set or the table cannot be used any more."""
        lost, is_first = LostJobs(self.table), True
        with ThreadPoolExecutor(at_once) as threads:
            try:
                waiting = {threads.submit(self._keep_doing) for _ in range(at_once)}
                while waiting:
                    self._written(lambda: self.table.beat(self.name))
                    self._tidy_up(lost, always=is_first)
                    is_first = False
                    done, waiting = wait(waiting, BEAT_S, FIRST_EXCEPTION)
                    for ended in done:
                        ended.result()
            finally:
                self.stopping.set()
        self._written(lambda: self.table.leave(self.name))

    def _tidy_up(self, lost: LostJobs, *, always: bool) -> None:
        """Give lost jobs up, and remove what they left."""
        with suppress(DiskFullError):
            if lost.give_up(self.name) or always:
                remove_leftovers(self.table)
                remove_parts(self.place.project)

    def do_next(self) -> bool:
        """Do the job that has waited longest; return False where none waits."""
        number = self.table.claim(self.name)
        if number is not None:
            self._do(number)
        return number is not None

    def _keep_doing(self) -> None:
        """Do one job after the other until the worker ends."""
        while not self.stopping.is_set():
            try:
                pause_s = 0.0 if self.do_next() else _IDLE_S
            except DiskFullError:
                pause_s = FULL_S
            self.stopping.wait(pause_s)

    def _do(self, number: str) -> None:
        """Do a claimed job and write how it ended, whatever happens in it."""
        try:
            state = self.table.find(number)
            work = Work(
                number=number, who=state.who, arguments=state.arguments, place=self.place, worker=self
            )
            result = result_text(state.kind, kind_of(state.kind).do(work))
        except Cancelled:
            self._end(number, "cancelled")
        except Interrupted:
            self._end(number, "failed", failure=WORKER_ENDED)
        except CorrelateError as error:
            self._end(number, "failed", failure=without_upload_folder(str(error), self.table.folder))
        except Exception:  # noqa: BLE001 - whatever it is, the page must learn that the job is over
            _LOG.exception("job %s failed", number)
            self._end(number, "failed", failure=FAULT)
        else:
            self._end(number, "done", result=result)

    def _end(self, number: str, stage: Stage, **more: str) -> None:
        """Write how a job ended; on a full disk as soon as there is space, or never when the worker ends."""
        while not self._written(lambda: self.table.end(number, self.name, stage, **more)):
            if self.stopping.wait(FULL_S):
                return

    def _written(self, write: Callable[[], object]) -> bool:
        """Write to the table; return False on a full disk, which is said in the log the first time."""
        try:
            write()
        except DiskFullError as error:
            if not self._said_full.is_set():
                _LOG.error("%s", error)
            self._said_full.set()
            return False
        self._said_full.clear()
        return True


def process_is_gone(worker: object) -> bool:
    """Return whether the process of a worker has ended for certain; False where that cannot be known."""
    host, _, rest = str(worker).partition(":")
    process = rest.partition(":")[0]
    if not rest:
        # Nobody claimed it, or somebody who does not exist.
        return True
    if host != socket.gethostname() or os.name != "posix":
        return False
    try:
        # Whoever asks is another worker than the one named, so that one is gone when the number is ours.
        if int(process) == os.getpid():
            return True
        os.kill(int(process), 0)
    except PermissionError:
        return False
    except (ProcessLookupError, OverflowError, ValueError):
        return True
    return False
