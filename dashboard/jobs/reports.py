"""The job that creates the report of a release, as the command does, and its files."""

from __future__ import annotations

import shutil
import subprocess
import sys
from contextlib import suppress
from typing import TYPE_CHECKING, Any, Final

from correlate import CorrelateError, load_campaign
from correlate.child_processes import attached
from dashboard.jobs.leftovers import REPORTS
from dashboard.selection import file_name

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from dashboard.jobs.worker import Work

KINDS: Final[dict[str, str]] = {
    "html": ".html",
    "appendix-html": "-appendix.html",
    "pdf": ".pdf",
    "appendix-pdf": "-appendix.pdf",
}
"""How the name of each file of a report ends; the pages need no browser. A report names its appendix."""
_ASKED: Final = ("html", "pdf")

MOST_KEPT: Final = 10
"""Reports; older ones are deleted, they can be created again."""

_LOOK_S: Final = 0.5


def make_report(work: Work) -> Mapping[str, Any]:
    """Write the report of a release as HTML and PDF beside the jobs table; without a browser HTML alone."""
    # Names of the campaign file only: nothing of what was sent becomes an option of the command.
    campaign = load_campaign(work.place.project)
    release = campaign.release(work.arguments["release"]).name
    against = work.arguments["against"]
    baseline = ["--baseline", campaign.release(against).name] if against else []
    folder = _folder(work.worker.table.folder)
    _forget_old(folder)
    target = folder / work.number
    target.mkdir(parents=True)
    files = {kind: target / _name(release, kind) for kind in KINDS}
    written = [f"--{kind}={files[kind]}" for kind in _ASKED]
    store = [f"--store={work.place.store}"] if work.place.store else []
    try:
        failure = _run(work, [str(work.place.project), f"--release={release}", *baseline, *written, *store])
    except BaseException:
        shutil.rmtree(target, ignore_errors=True)
        raise
    found = [kind for kind, file in files.items() if file.exists()]
    if not found:
        shutil.rmtree(target, ignore_errors=True)
        raise CorrelateError(failure or "the report was not written")
    return {"release": release, "files": found, "problem": failure}


def report_file(folder: Path, number: str, kind: str, release: str) -> tuple[Path, str]:
    """Return a file of a report and the name under which it is saved."""
    name = _name(release, kind) if kind in KINDS else ""
    file = _folder(folder) / number / name
    if not file.is_file():
        raise CorrelateError("this report is no longer there", remedy="create it again")
    return file, name


def _name(release: str, kind: str) -> str:
    """Return the name of a file, fit for any file system."""
    return file_name(["report", release]) + KINDS[kind]


def _folder(jobs: Path) -> Path:
    return jobs / REPORTS


def _forget_old(folder: Path) -> None:
    """Delete all but the newest reports."""
    if not folder.is_dir():
        return
    by_age = sorted(folder.iterdir(), key=lambda one: one.stat().st_mtime_ns, reverse=True)
    for old in by_age[MOST_KEPT - 1 :]:
        shutil.rmtree(old, ignore_errors=True)


def _run(work: Work, arguments: list[str]) -> str:
    """Run ``correlate report`` in a process of its own; return its last sentence where it fails.

    A process, because it computes for a minute: the job can be cancelled meanwhile, and its memory is freed.
    """
    work.progress(0.1, "writing the report")
    command = [sys.executable, "-P", "-m", "correlate", "report", *arguments]
    with attached(
        command, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True, errors="replace"
    ) as process:
        while True:
            with suppress(subprocess.TimeoutExpired):
                _, said = process.communicate(timeout=_LOOK_S)
                break
            work.progress(0.5, "drawing curves and printing")
    if process.returncode == 0:
        return ""
    lines = str(said).strip().splitlines() or ["the report could not be created"]
    return lines[-1].removeprefix("correlate: ")
