"""Start, watch and cancel jobs."""

from __future__ import annotations

import logging
import secrets
import shutil
from typing import TYPE_CHECKING, Any, Final

from flask import abort, current_app

from correlate import CorrelateError
from dashboard.access import Account, Role, record
from dashboard.jobs.kinds import checked_arguments, kind_of
from dashboard.jobs.leftovers import remove_leftovers, storing
from dashboard.jobs.reports import report_file
from dashboard.jobs.table import Activity, JobState, JobTable
from dashboard.jobs.worker import LostJobs
from dashboard.state import closed, read_only
from dashboard.uploads import keep_uploads

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from dash import Dash

_JOBS: Final = "correlate-jobs"

_LOG: Final = logging.getLogger("dashboard.jobs")

MOST_OPEN: Final = 10
"""Jobs of one account that may wait or run."""


class Jobs:
    """The jobs of a server."""

    def __init__(self, folder: Path) -> None:
        self._table = JobTable(folder)
        self._without_worker = False

    def start(self, kind: str, arguments: Mapping[str, Any], account: Account) -> str:
        """Start a job."""
        least = kind_of(kind).least
        if not account.role.allows(least):
            abort(403, f"This needs the role {least.value}.")
        complete = checked_arguments(kind, arguments)
        writes = kind_of(kind).writes
        if writes is not None and (reason := closed(writes)):
            raise read_only(reason)
        if len(self._table.open_jobs(account.name)) >= MOST_OPEN:
            raise CorrelateError(f"you already have {MOST_OPEN} open jobs", remedy="wait, or cancel one")
        if self._without_worker:
            raise CorrelateError(
                "the worker of this server has stopped, so that no job can be done",
                remedy="ask whoever runs the server to read its log and start it again",
            )
        number = secrets.token_urlsafe(12)
        self._table.add(number, kind, complete, account.name)
        record(f"started the job {kind}", number)
        return number

    def start_with_file(
        self, kind: str, file: str, content: str, told: Mapping[str, Any], account: Account
    ) -> str:
        """Keep a file that the page sent and start its job; the file goes again where that fails."""
        with storing(self._table.folder) as uploads:
            upload = uploads / secrets.token_hex(12)
            (kept,) = keep_uploads(upload, [file], [content])
            try:
                number = self.start(kind, {"upload": upload.name, "file": kept.name, **told}, account)
            except BaseException:
                shutil.rmtree(upload, ignore_errors=True)
                raise
        record(f"uploaded a file for the job {kind}", kept.name)
        return number

    def state(self, number: str) -> JobState:
        """Return how a job goes."""
        state = self._table.find(number)
        if self._without_worker and state.stage == "waiting":
            return state.model_copy(update={"words": "waiting until the server is started again"})
        return state

    def open_jobs(self, account: Account) -> list[JobState]:
        """Return the jobs of an account that wait or run, oldest first."""
        return self._table.open_jobs(account.name)

    def cancel(self, number: str, account: Account) -> None:
        """Ask a job to end; it does before its next step."""
        if self.state(number).who != account.name and not account.role.allows(Role.ADMIN):
            abort(403, "This job was started by someone else.")
        self._table.ask_to_cancel(number)
        remove_leftovers(self._table)
        record("cancelled a job", number)

    def report_file(self, number: str, kind: str) -> tuple[Path, str]:
        """Return a file of a report that was made, and the name under which it is saved."""
        state = self._table.find(number)
        if state.kind != "report" or state.stage != "done":
            raise CorrelateError("this job has made no report", remedy="make one on the decision sheet")
        return report_file(self._table.folder, number, kind, str(state.result["release"]))

    def activity(self) -> Activity:
        """Return what the worker does now."""
        return self._table.activity()

    def lose_worker(self) -> None:
        """Take no more jobs, and mark those that ran as failed: the worker is not started again."""
        self._without_worker = True
        try:
            LostJobs(self._table).give_up()
            remove_leftovers(self._table)
        except CorrelateError as error:
            _LOG.error("jobs that ran cannot be marked as failed: %s", error)


def offer_jobs(app: Dash, jobs: Jobs) -> None:
    """Let the pages of an application start jobs."""
    app.server.extensions[_JOBS] = jobs


def jobs_of_server() -> Jobs:
    """Return the jobs of the server that answers."""
    found: Jobs | None = current_app.extensions.get(_JOBS)
    if found is None:
        raise CorrelateError(
            "this server runs no background jobs",
            remedy="use the command line, or start it with a worker",
        )
    return found
