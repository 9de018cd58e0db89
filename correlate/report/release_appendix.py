"""What a release rests on: files with their hashes, versions, and every step of every curve."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from correlate.plots.record_words import step_words
from correlate.signal import Step
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from correlate.campaign import PairRecord
    from correlate.report.release_cases import ChannelPart
    from correlate.report.release_contents import ReleaseContents


def appendix(contents: ReleaseContents) -> dict[str, Any]:
    """Return what the release rests on.

    Parameters
    ----------
    contents
        Of the document.

    Returns
    -------
    dict
        ``facts``: hashes and versions; ``files``: name and hash of every file, once; ``steps``: by load case
        and channel; ``evidence``: what is missing, stale, waived or found; ``unrated``, ``unpaired``: what
        is not in the ratings, with the reason.
    """
    own = [record for case in contents.cases for channel in case.channels for record in channel.records]
    folder = contents.campaign.folder
    name = contents.release.name
    return {
        "facts": _facts(contents, own),
        "files": _files(own, folder),
        "steps": [
            {"case": case.score.words, "channels": [_steps(channel, folder) for channel in case.channels]}
            for case in contents.cases
        ],
        "evidence": _evidence(contents),
        "unrated": [one for one in contents.scores.unrated if one.release == name],
        "unpaired": [one for one in contents.scores.unpaired if getattr(one, "release", "") in {"", name}],
    }


def _evidence(contents: ReleaseContents) -> list[tuple[str, str, str]]:
    """Return kind, place and words of everything that a number stands on less than it should."""
    evidence = contents.evidence
    return [
        *((gap.kind, gap.place, gap.reason) for gap in evidence.gaps),
        *(
            ("waived", one.finding.short_place, f"{one.finding.kind}: {one.finding.what}; {one.waiver.words}")
            for one in evidence.waived
        ),
        *((one.severity, one.short_place, f"{one.kind}: {one.what}") for one in evidence.findings),
    ]


def _facts(contents: ReleaseContents, records: Iterable[PairRecord]) -> list[tuple[str, str]]:
    runs = contents.kept.runs
    rated = list(dict.fromkeys(record.version for record in records))
    days = list(dict.fromkeys(run.started.date().isoformat() for run in runs))
    return [
        ("Campaign file, SHA-256", contents.campaign.sha256),
        ("Ratings of the release, SHA-256", contents.kept.ratings_sha256),
        ("Version that rated", ", ".join(rated)),
        ("Version that wrote this document", VERSION),
        ("Days on which the campaign was rated", ", ".join(days) or "not recorded"),
    ]


def _files(records: Iterable[PairRecord], folder: Path) -> list[tuple[str, str]]:
    found: dict[str, str] = {}
    for record in records:
        for side in ("reference", "candidate"):
            told = record.inputs[side]
            if told["sha256"]:
                found[_short(told["file"], folder)] = told["sha256"]
    return sorted(found.items())


def _short(file: str, folder: Path) -> str:
    """Return a path as it is seen from the campaign file, so that the place of a project does not matter."""
    path = Path(file)
    for root in (folder, folder.resolve()):
        if path.is_relative_to(root):
            return path.relative_to(root).as_posix()
    return file


def _steps(channel: ChannelPart, folder: Path) -> dict[str, Any]:
    records = channel.records
    return {
        "title": channel.score.words,
        "model": _history(records[0].inputs["candidate"], folder) if records else [],
        "tests": _grouped(records, folder),
    }


def _grouped(records: Iterable[PairRecord], folder: Path) -> list[tuple[str, list[str]]]:
    """Return the steps of each test; tests with the very same steps share one entry."""
    groups: dict[tuple[str, ...], list[str]] = {}
    for record in records:
        groups.setdefault(tuple(_history(record.inputs["reference"], folder)), []).append(record.repeat)
    return [(", ".join(names), list(steps)) for steps, names in groups.items()]


def _listed(value: Any, folder: Path) -> Any:
    """Write a list as words, and paths in it as they are seen from the campaign file."""
    if not isinstance(value, list):
        return value
    words = ", ".join(str(one) for one in value)
    return words.replace(f"{folder}/", "").replace(f"{folder.resolve()}/", "")


def _history(told: Mapping[str, Any], folder: Path) -> list[str]:
    found = []
    for entry in told["history"]:
        settings = {key: _listed(value, folder) for key, value in entry.items() if key != "step"}
        name, words = step_words(Step(entry["step"], settings))
        found.append(f"{name}: {words}" if words else name)
    return found
