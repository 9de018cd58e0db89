"""Start, watch and cancel jobs."""

from __future__ import annotations

import secrets
from typing import TYPE_CHECKING, Any, Final

from flask import abort, current_app

from correlate import CorrelateError
from dashboard.access import Account, Role, record
from dashboard.jobs.kinds import checked_arguments, kind_of
from dashboard.jobs.queue import JobQueue
from dashboard.jobs.records import JobRecords, JobState

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from dash import Dash

_JOBS: Final = "correlate-jobs"

MOST_OPEN: Final = 10
"""Jobs of one account that may wait or run."""


class Jobs:
    """The jobs of a server.

    Parameters
    ----------
    folder
        For the queue and the records, which the worker shares; made when it is absent.

    Raises
    ------
    CorrelateError
        The folder cannot be made.
    """

    def __init__(self, folder: Path) -> None:
        self._records = JobRecords(folder)
        self._queue = JobQueue(folder)

    def start(self, kind: str, arguments: Mapping[str, Any], account: Account) -> str:
        """Start a job.

        Parameters
        ----------
        kind
            Of `KINDS`.
        arguments
            What exactly is wanted.
        account
            Who wants it.

        Returns
        -------
        str
            Number of the job.

        Raises
        ------
        werkzeug.exceptions.Forbidden
            The role of the account is not enough.
        CorrelateError
            There is no such kind, it cannot be told this, or the account has too many jobs open.
        """
        least = kind_of(kind).least
        if not account.role.allows(least):
            abort(403, f"This needs the role {least.value}.")
        complete = checked_arguments(kind, arguments)
        if len(self._records.open_jobs(account.name)) >= MOST_OPEN:
            raise CorrelateError(f"you already have {MOST_OPEN} open jobs", remedy="wait, or cancel one")
        number = secrets.token_urlsafe(12)
        self._records.add(number, kind, complete, account.name)
        self._queue.put(number)
        record(f"started the job {kind}", number)
        return number

    def state(self, number: str) -> JobState:
        """Return how a job goes.

        Parameters
        ----------
        number
            Of the job.

        Returns
        -------
        JobState

        Raises
        ------
        CorrelateError
            There is no such job.
        """
        return self._records.find(number)

    def open_jobs(self, account: Account) -> list[JobState]:
        """Return the jobs of an account that wait or run, oldest first.

        Parameters
        ----------
        account
            Whose.

        Returns
        -------
        list of JobState
        """
        return self._records.open_jobs(account.name)

    def cancel(self, number: str, account: Account) -> None:
        """Ask a job to end; it does before its next step.

        Parameters
        ----------
        number
            Of the job.
        account
            Who asks: whoever started it, or an admin.

        Raises
        ------
        werkzeug.exceptions.Forbidden
            It is somebody else's.
        CorrelateError
            There is no such job.
        """
        if self.state(number).who != account.name and not account.role.allows(Role.ADMIN):
            abort(403, "This job was started by someone else.")
        self._records.ask_to_cancel(number)
        record("cancelled a job", number)


def offer_jobs(app: Dash, jobs: Jobs) -> None:
    """Let the pages of an application start jobs.

    Parameters
    ----------
    app
        The application.
    jobs
        Of its server.
    """
    app.server.extensions[_JOBS] = jobs


def jobs_of_server() -> Jobs:
    """Return the jobs of the server that answers.

    Returns
    -------
    Jobs

    Raises
    ------
    CorrelateError
        It has no worker.
    """
    found: Jobs | None = current_app.extensions.get(_JOBS)
    if found is None:
        raise CorrelateError(
            "this server runs no background jobs",
            remedy="use the command line, or start it with a worker",
        )
    return found
