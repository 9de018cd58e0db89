"""The uploaded packages of reference data, as described by the notes beside them."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from dashboard.jobs.intake import QUARANTINE, RECEIVED

if TYPE_CHECKING:
    from pathlib import Path


@dataclass(frozen=True, slots=True, kw_only=True)
class PackageNote:
    """A package that was sent in.

    Attributes
    ----------
    name
        Of its folder.
    quarantine
        Whether errors were found in it.
    folder
        Within the project.
    findings
        Of the data check, one sentence each.
    errors
        How many of them are errors.
    signed_by
        Fingerprint of the key; empty where nobody signed.
    problem
        Why the note cannot be read; empty when it can.
    """

    name: str
    quarantine: bool
    folder: str = ""
    findings: tuple[str, ...] = ()
    errors: int = 0
    signed_by: str = ""
    problem: str = ""


def package_notes(project: Path) -> list[PackageNote]:
    """Read the notes beside the packages of a project.

    Parameters
    ----------
    project
        Its folder.

    Returns
    -------
    list of PackageNote
        By place and name.
    """
    return [
        _read(note, quarantine=place == QUARANTINE)
        for place in (RECEIVED, QUARANTINE)
        for note in sorted((project / place).glob("*.json"))
    ]


def _read(note: Path, *, quarantine: bool) -> PackageNote:
    try:
        said: dict[str, Any] = json.loads(note.read_text(encoding="utf-8"))
        return PackageNote(
            name=note.stem,
            quarantine=quarantine,
            folder=str(said["folder"]),
            findings=tuple(map(str, said["findings"])),
            errors=int(said["errors"]),
            signed_by=str(said["signed_by"]),
        )
    except (OSError, ValueError, KeyError, TypeError):
        words = f"{note.parent.name}/{note.name} cannot be read; verify the package and write its note again"
        return PackageNote(name=note.stem, quarantine=quarantine, problem=words)
