"""The jobs that take in what was uploaded: a package of reference data, the results of a release."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING, Any

from correlate import receive_package, receive_results
from correlate.limits import limited
from dashboard.jobs.leftovers import UPLOADS
from dashboard.uploads import safe_name

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from dashboard.jobs.worker import Work


def take_in_package(work: Work) -> Mapping[str, Any]:
    """Verify every byte of a package, examine its tests, and keep it as received or in quarantine.

    A package that is damaged, holds no test or has the name of another is refused, and nothing of it is kept.
    """
    upload = _upload_of(work)
    try:
        with limited(work.place.uploads):
            return receive_package(work.place.project, upload, work.progress).as_plain()
    finally:
        # Whatever became of it: what is refused is not kept either.
        shutil.rmtree(upload.parent, ignore_errors=True)


def take_in_results(work: Work) -> Mapping[str, Any]:
    """Make a release of the results in an upload and name it in the campaign file: all of it, or nothing."""
    told, upload = work.arguments, _upload_of(work)
    try:
        with limited(work.place.uploads):
            received = receive_results(
                work.place.project / "campaign.toml",
                upload,
                name=told["name"],
                note=told["note"],
                progress=work.progress,
            )
    finally:
        shutil.rmtree(upload.parent, ignore_errors=True)
    return {
        "release": received.release.name,
        "files": received.files,
        "read": list(received.read),
        "missing": list(received.missing),
    }


def _upload_of(work: Work) -> Path:
    """Return the file that a job takes in; names that lead elsewhere are refused."""
    told = work.arguments
    return work.worker.table.folder / UPLOADS / safe_name(told["upload"]) / safe_name(told["file"])
