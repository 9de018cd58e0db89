"""The jobs that take in what was uploaded: a package of reference data, the results of a release."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING, Any, Final

from correlate import receive_package, receive_results
from correlate.limits import limited
from dashboard.uploads import safe_name

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dashboard.jobs.worker import Work

UPLOADS: Final = "uploads"
"""Folder of the project that pages put uploads into, each in a folder of its own."""


def take_in_package(work: Work) -> Mapping[str, Any]:
    """Verify every byte of a package, examine its tests, and keep it as received or in quarantine.

    A package that is damaged, holds no test or has the name of another is refused, and nothing of it is kept.
    """
    name = safe_name(work.arguments["file"])
    upload = work.place.project / UPLOADS / safe_name(work.arguments["upload"]) / name
    try:
        with limited(work.place.uploads):
            return receive_package(work.place.project, upload, work.progress).as_plain()
    finally:
        # Whatever became of it: what is refused is not kept either.
        shutil.rmtree(upload.parent, ignore_errors=True)


def take_in_results(work: Work) -> Mapping[str, Any]:
    """Make a release of the results in an upload and name it in the campaign file: all of it, or nothing."""
    project, told = work.place.project, work.arguments
    upload = project / UPLOADS / safe_name(told["upload"])
    try:
        with limited(work.place.uploads):
            received = receive_results(
                project / "campaign.toml",
                upload / safe_name(told["file"]),
                name=told["name"],
                note=told["note"],
                progress=work.progress,
            )
    finally:
        shutil.rmtree(upload, ignore_errors=True)
    return {
        "release": received.release.name,
        "files": received.files,
        "read": list(received.read),
        "missing": list(received.missing),
    }
