"""The jobs that take in what was uploaded: a package of reference data, the results of a release."""

from __future__ import annotations

import json
import shutil
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any, Final

from correlate import CorrelateError, check, read, receive_results, unpack
from dashboard.uploads import safe_name

if TYPE_CHECKING:
    from collections.abc import Mapping

    from dashboard.jobs.worker import Work

UPLOADS: Final = "uploads"
"""Folder of the project that pages put uploads into, each in a folder of its own."""

RECEIVED: Final = "received"
"""Folder of the project for packages without errors; the campaign file may name tests in it."""

QUARANTINE: Final = "quarantine"
"""Folder of the project for packages in which errors were found."""


def take_in_package(work: Work) -> Mapping[str, Any]:
    """Verify every byte of a package, examine its tests, and keep it as received or in quarantine.

    A package that is damaged, holds no test or has the name of another is refused, and nothing of it is kept.
    """
    name = safe_name(work.arguments["file"])
    upload = work.place.project / UPLOADS / safe_name(work.arguments["upload"]) / name
    try:
        return _taken_in(work, upload)
    finally:
        # Whatever became of it: what is refused is not kept either.
        shutil.rmtree(upload.parent, ignore_errors=True)


def take_in_results(work: Work) -> Mapping[str, Any]:
    """Make a release of the results in an upload and name it in the campaign file: all of it, or nothing."""
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


def _taken_in(work: Work, upload: Path) -> dict[str, Any]:
    """Unpack, examine and place a package."""
    project, name, title = work.place.project, upload.name, upload.stem
    for place in (RECEIVED, QUARANTINE):
        if (project / place / title).exists():
            raise CorrelateError(
                f"a package '{title}' already exists under {place}", where=name, remedy="rename the new one"
            )
    with TemporaryDirectory(dir=project, prefix=".ingest-") as beside:
        bag = Path(beside) / title
        work.progress(0.05, "comparing every byte")
        verified = unpack(upload, bag)
        findings, errors = _examined(work, bag)
        signed_by = "" if verified.signed_by is None else verified.signed_by.fingerprint
        place = QUARANTINE if errors else RECEIVED
        result = {
            "folder": f"{place}/{title}",
            "quarantine": bool(errors),
            "findings": findings,
            "errors": errors,
            "signed_by": signed_by,
        }
        work.progress(0.98, "storing the package")
        note = Path(beside) / f"{title}.json"
        note.write_text(json.dumps(result, indent=2, ensure_ascii=False) + "\n", encoding="utf-8")
        (project / place).mkdir(exist_ok=True)
        # Beside the package, not in it: a package with a file added would not be whole any more.
        note.replace(project / place / note.name)
        bag.rename(project / place / title)
    return result


def _examined(work: Work, bag: Path) -> tuple[list[str], int]:
    """Return what is wrong with the tests, one sentence each, and how many are errors."""
    load_cases = sorted(path for path in bag.glob("data/tests/*") if path.is_dir())
    if not load_cases:
        raise CorrelateError("this package holds no test", where=bag.name, remedy="request another one")
    findings: list[str] = []
    errors = 0
    for done, load_case in enumerate(load_cases):
        work.progress(0.3 + 0.6 * done / len(load_cases), f"examining {load_case.name}")
        outcome = check([read(path) for path in sorted(load_case.iterdir())])
        start = f"{bag.parent}/"
        findings += [f"{one.place.removeprefix(start)}: {one.what}" for one in outcome.findings]
        errors += outcome.count("error")
    return findings, errors
