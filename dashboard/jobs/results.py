"""The job that imports the results of a release: unpacked, read, stored, added to the campaign."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING, Any

from correlate import receive_results
from dashboard.jobs.ingest import UPLOADS
from dashboard.uploads import safe_name

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dashboard.jobs.work import Work


def do(work: Work) -> Mapping[str, Any]:
    """Make a release of the results in an upload.

    Parameters
    ----------
    work
        The job, told the ``upload``, the ``file`` in it, and the ``name`` and ``note`` of the release.

    Returns
    -------
    Mapping
        ``release`` and how many ``files`` it has; the load cases that were ``read`` and those ``missing``.

    Raises
    ------
    CorrelateError
        The results cannot be used. Nothing of them is kept, and the campaign file is as it was.
    """
    project, told = work.place.project, work.arguments
    upload = project / UPLOADS / safe_name(told["upload"])
    try:
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
