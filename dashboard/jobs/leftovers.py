"""Uploads that wait for their job, and the removal of what jobs that ended early left behind.

Uploads lie in the private folder of the jobs, so whatever is there is the server's own. An upload belongs to
a job that waits or runs; without one it is removed. While one is stored and its job is started, nothing is
removed.
"""

from __future__ import annotations

import logging
import re
import shutil
from contextlib import contextmanager, suppress
from typing import TYPE_CHECKING, Final

from correlate import CorrelateError
from correlate.files import turn
from correlate.temporary import remove_abandoned

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from dashboard.jobs.table import JobTable

UPLOADS: Final = "uploads"
"""Folder beside the jobs table; each upload has a folder of its own in it."""


def without_upload_folder(words: str, jobs: Path) -> str:
    """Name uploads as the person who sent them does, without the folder of the jobs."""
    return re.sub(rf"{re.escape(str(jobs / UPLOADS))}/[^/\s]+/", "", words)


REPORTS: Final = "reports"
"""Folder beside the jobs table; each report has a folder of the name of its job in it."""

_WRITTEN_BY_JOBS: Final = ("", "releases", "received", "quarantine", "runs")
"""Folders of a project."""

_LOG: Final = logging.getLogger("dashboard.jobs")


@contextmanager
def storing(jobs: Path) -> Iterator[Path]:
    """Return the folder of uploads while nobody else stores or removes one."""
    uploads = jobs / UPLOADS
    uploads.mkdir(mode=0o700, exist_ok=True)
    with turn(uploads):
        yield uploads


def remove_leftovers(table: JobTable) -> None:
    """Remove uploads without an open job, and reports whose job ended before they were written."""
    with _said(), storing(table.folder) as uploads:
        wanted = {str(job.arguments.get("upload", "")) for job in table.open_jobs()}
        for entry in [*uploads.iterdir()]:
            if entry.name not in wanted:
                shutil.rmtree(entry, ignore_errors=True)
    with _said():
        for entry in [*(table.folder / REPORTS).glob("*")]:
            if _has_no_report(table, entry.name):
                shutil.rmtree(entry, ignore_errors=True)


def remove_parts(project: Path) -> None:
    """Remove what killed jobs had begun to write into a project, and no program works on any more."""
    for name in _WRITTEN_BY_JOBS:
        remove_abandoned(project / name)


def _has_no_report(table: JobTable, number: str) -> bool:
    with suppress(CorrelateError):
        return table.find(number).stage in {"failed", "cancelled"}
    return False


@contextmanager
def _said() -> Iterator[None]:
    """Continue if something cannot be removed; it is tried again later."""
    try:
        yield
    except (CorrelateError, OSError) as error:
        _LOG.warning("files left by ended jobs cannot be removed: %s", error)
