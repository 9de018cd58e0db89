"""The appendix of the report of a release: hashes, evidence, every number and every step."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from correlate.campaign.gate import gap_groups
from correlate.campaign.unrated_words import unrated_lines
from correlate.plots.laboratory_words import rounded
from correlate.plots.wording import filter_words, milliseconds, number, step_words
from correlate.reference.finding import equal_findings, places_of
from correlate.report.board_rows import board_row, difference_words
from correlate.report.html import render_page, without_folder
from correlate.report.release_document import change_row, page_frame
from correlate.report.release_parts import criteria_rows, window_rows
from correlate.signal import Step
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from correlate.campaign import Campaign, PairRecord, Score
    from correlate.report.release_contents import CasePart, ChannelPart, ReleaseContents

SECTIONS: Final = (
    ("evidence", "A. Evidence"),
    ("ratings", "B. Every rating"),
    ("all-changes", "C. Every change"),
    ("conditioning", "D. How each channel is conditioned"),
    ("criteria-limits", "E. Injury criteria, limits and windows"),
    ("inputs", "F. Inputs and versions"),
    ("steps", "G. Every recorded step"),
)
"""Name and heading of each section."""


def appendix_html(contents: ReleaseContents) -> str:
    """Write the appendix."""
    page = render_page(
        "release_appendix.html",
        **page_frame(contents),
        sections=SECTIONS,
        appendix=_appendix(contents),
        open_checks=contents.board.open_checks,
        tree=_tree(contents),
        changes=[change_row(change) for change in contents.changes],
        conditioning=_conditioning(contents.campaign),
        device=contents.yardsticks.device,
        limits=_limits(contents),
        windows=[
            (case.score.words, window_rows(case.windows))
            for case in contents.cases
            if case.windows is not None
        ],
        criteria=[
            (case.score.words, criteria_rows(case.criteria))
            for case in contents.cases
            if case.criteria is not None and case.criteria.compared
        ],
    )
    return without_folder(page, contents.campaign.folder)


def _tree(contents: ReleaseContents) -> list[dict[str, Any]]:
    """Return the numbers from load case down to channel, one row each."""
    by_place = {
        (case.load_case.name, channel.score.name): channel
        for case in contents.cases
        for channel in case.channels
    }
    board = contents.board
    lines = {line.score.name: line for line in [*board.load_cases, *board.held_out_cases]}
    rows: list[dict[str, Any]] = []
    for case in contents.cases:
        top = {"score": case.score, "level": 0, "case": case.load_case}
        rows.append({**top, **board_row(lines[case.load_case.name])})
        rows += _branches(case.score, 1, case, by_place)
    return rows


def _branches(
    score: Score, level: int, case: CasePart, by_place: Mapping[tuple[str, str], ChannelPart]
) -> list[dict[str, Any]]:
    rows = []
    for part in score.parts:
        row: dict[str, Any] = {"score": part, "level": level, "case": case.load_case}
        row |= {"ceiling": None, "difference": ""}
        if part.kind == "channel":
            channel = by_place[case.load_case.name, part.name]
            ceiling = None if channel.ceiling is None else channel.ceiling.median
            row |= {"ceiling": ceiling, "difference": difference_words(channel.change)}
        rows += [row, *_branches(part, level + 1, case, by_place)]
    return rows


def _limits(contents: ReleaseContents) -> list[tuple[str, str, str]]:
    """Return criterion, limit and source of every limit of a criterion in the report."""
    device = contents.yardsticks.device
    if device is None:
        return []
    compared = [one.name for case in contents.cases if case.criteria for one in case.criteria.compared]
    return [
        (name, rounded(limit.at_most), f"{limit.source}, {limit.edition}")
        for name in dict.fromkeys(compared)
        for limit in device.limits_of(name)
    ]


def _conditioning(campaign: Campaign) -> list[dict[str, str]]:
    rows = []
    for case in campaign.load_cases:
        for plan in case.channel:
            offset = plan.test_offset_ms
            notes = [
                "test turned" if plan.test_sign < 0 else "",
                "model turned" if plan.model_sign < 0 else "",
                f"model moved by {number(plan.model_shift_ms)} ms" if plan.model_shift_ms else "",
                "" if offset is None else f"test offset from {number(offset[0])} to {number(offset[1])} ms",
            ]
            rows.append(
                {
                    "case": case.name,
                    "channel": plan.words,
                    "filter": filter_words(plan.cfc),
                    "interval": f"{number(case.interval_ms[0])} to {number(case.interval_ms[1])} ms",
                    "step": milliseconds(case.step_ms / 1e3),
                    "notes": ", ".join(note for note in notes if note),
                }
            )
    return rows


def _appendix(contents: ReleaseContents) -> dict[str, Any]:
    """Return what the release rests on."""
    own = [record for case in contents.cases for channel in case.channels for record in channel.records]
    folder = contents.campaign.folder
    name = contents.release.name
    return {
        "facts": _test_facts(contents, own),
        "files": _files(own, folder),
        "steps": [
            {"case": case.score.words, "channels": [_steps(channel, folder) for channel in case.channels]}
            for case in contents.cases
        ],
        "evidence": _evidence(contents),
        "unrated": (unrated := [one for one in contents.scores.unrated if one.release == name]),
        "unrated_lines": unrated_lines(unrated),
        "unpaired": [one for one in contents.scores.unpaired if getattr(one, "release", "") in {"", name}],
    }


def _evidence(contents: ReleaseContents) -> list[tuple[str, str, str]]:
    """Return kind, place and words of everything that weakens the evidence of a number."""
    evidence = contents.evidence
    return [
        *gap_groups(evidence.gaps),
        *(
            ("waived", one.finding.short_place, f"{one.finding.kind}: {one.finding.what}; {one.waiver.words}")
            for one in evidence.waived
        ),
        *(("released", f"{one.load_case} / {one.package}", one.words) for one in evidence.released),
        *(
            (group[0].severity, places_of(group), f"{group[0].kind}: {group[0].what}")
            for group in equal_findings(evidence.findings)
        ),
    ]


def _test_facts(contents: ReleaseContents, records: Iterable[PairRecord]) -> list[tuple[str, str]]:
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
