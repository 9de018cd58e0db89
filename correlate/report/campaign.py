"""A scored campaign in the terminal, as JSON and as CSV."""

from __future__ import annotations

import json
from dataclasses import asdict
from itertools import groupby
from typing import TYPE_CHECKING, Any, Final
from xml.etree import ElementTree as ET

from rich.padding import Padding
from rich.text import Text

from correlate.campaign.unrated_words import unrated_lines
from correlate.plots.scoreboard_words import chance_brief, difference_interval, signed, uncertainty_words
from correlate.plots.sign_off_words import sign_off_lines
from correlate.plots.wording import CAUTION
from correlate.reference.finding import counted
from correlate.report.table import TextTable
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from rich.console import Console

    from correlate.campaign import (
        Campaign,
        CampaignScores,
        Change,
        Check,
        Decision,
        ReleaseScore,
        Score,
    )
    from correlate.campaign.release_evidence import ReleaseEvidence
    from correlate.statistics import Estimate
    from correlate.store.scored import StoredScores
    from correlate.store.signing import SignOffToday


def scores_json(campaign: Campaign, stored: StoredScores, releases: Sequence[ReleaseScore]) -> str:
    """Return everything that came of scoring as JSON text."""
    scores = stored.scores
    content = {
        "campaign": campaign.title,
        "file_sha256": campaign.sha256,
        "version": VERSION,
        "measure": campaign.scoring.main,
        "repeats": campaign.scoring.repeats,
        "missing": campaign.scoring.missing,
        "releases": [release_object(release) for release in releases],
        "evidence": [one.as_plain() for one in stored.evidence.values()],
        "pairs": [asdict(record) for record in scores.records],
        "unrated": [asdict(entry) for entry in scores.unrated],
        "unpaired": [asdict(entry) for entry in scores.unpaired],
    }
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)


def release_object(release: ReleaseScore) -> dict[str, Any]:
    """Return the tree of a release as plain values."""
    return {
        "release": release.release,
        "training": _score_object(release.training),
        "held_out": None if release.held_out is None else _score_object(release.held_out),
        "regions": [_score_object(region) for region in release.regions],
    }


def changes_json(before: str, after: str, changes: Iterable[Change]) -> str:
    """Return the comparison of two releases as JSON text."""
    listed = [
        {
            **asdict(change),
            "estimate": None if change.estimate is None else estimate_object(change.estimate),
            "difference": change.difference,
            "verdict": change.verdict,
        }
        for change in changes
    ]
    return json.dumps(
        {"before": before, "after": after, "version": VERSION, "changes": listed},
        indent=2,
        ensure_ascii=False,
    )


def estimate_object(estimate: Estimate) -> dict[str, float | int]:
    """Return an estimate with its 95 % interval as plain values."""
    return {**asdict(estimate), "lower": estimate.lower(), "upper": estimate.upper()}


def gate_junit(release: str, checks: Sequence[Check]) -> str:
    """Return the checks of the gate as JUnit XML, the form that build pipelines read."""
    failed = sum(not check.is_passed for check in checks)
    suite = ET.Element(
        "testsuite",
        name=f"correlate gate {release}",
        tests=str(len(checks)),
        failures=str(failed),
        errors="0",
    )
    for check in checks:
        case = ET.SubElement(suite, "testcase", classname=f"release {release}", name=check.name)
        if not check.is_passed:
            ET.SubElement(case, "failure", message=check.reason)
        if check.waived:
            ET.SubElement(case, "system-out").text = f"waived: {check.waived}"
    ET.indent(suite)
    return ET.tostring(suite, encoding="unicode", xml_declaration=True) + "\n"


def _score_object(score: Score) -> dict[str, Any]:
    parts = [_score_object(part) for part in score.parts]
    plain = {key: value for key, value in asdict(score).items() if key != "parts"}
    estimate = score.estimate
    plain["estimate"] = None if estimate is None else estimate_object(estimate)
    return {**plain, "grade": score.grade, "parts": parts}


NONE = "–"
MOST_REASONS: Final = 10
"""Maximum number of reasons that the terminal shows for one check."""


def print_scores(console: Console, stored: StoredScores, releases: Sequence[ReleaseScore]) -> None:
    """Print every release from its load cases down to its channels, and what it stands on."""
    scores = stored.scores
    for release in releases:
        # The lines fit; searching for text to crop takes as long as all other work for thousands of rows.
        console.print(_release_table(release), crop=False)
        _print_evidence(console, release, stored.evidence[release.release])
    _print_gaps(console, scores)
    planned = len(scores.records) + len(scores.unrated)
    if scores.unrated:
        console.print(f"{len(scores.records)} of {planned} pairs could be rated.", style="bold")
    console.print(f"{scores.new} pairs rated, {scores.reused} known already.")
    console.print(CAUTION, style="dim")


def print_overview(console: Console, releases: Sequence[ReleaseScore]) -> None:
    """Print one line per load case and body region, one column per release."""
    table = TextTable()
    table.add_column("rating and grade")
    for release in releases:
        table.add_column(release.release)
    lines = [("all load cases", [release.training for release in releases])]
    lines += _alike([release.training for release in releases], "  ")
    held_out = [release.held_out for release in releases if release.held_out is not None]
    if held_out:
        lines.append(("held out of tuning", held_out))
        lines += _alike(held_out, "  ")
    for line in zip(*(release.regions for release in releases), strict=True):
        lines.append((f"region {line[0].words}", list(line)))
    for words, scores in lines:
        style = "" if words.startswith(" ") else "bold"
        table.add_row(
            Text(words), *(f"{_number(one.overall)} {one.grade or ''}" for one in scores), style=style
        )
    console.print(table)
    console.print(CAUTION, style="dim")


def _alike(scores: Sequence[Score], indent: str) -> list[tuple[str, list[Score]]]:
    """Put the parts of several releases side by side."""
    return [
        (f"{indent}{line[0].name}", list(line)) for line in zip(*(one.parts for one in scores), strict=True)
    ]


def print_changes(console: Console, before: str, after: str, changes: Iterable[Change], *, top: int) -> None:
    """Print what changed: within each kind first what cannot be compared, then the biggest changes."""
    table = TextTable(gap=1)
    table.add_column("where")
    for heading in (before, after, "change"):
        table.add_column(heading, justify="right")
    table.add_column("95 % interval")
    table.add_column("verdict", is_text=True)
    hidden: list[Change] = []
    for kind, group in groupby(changes, key=lambda change: change.kind):
        # What is rated in one release only is no small change: it must not be cut off behind them.
        rows = sorted(group, key=lambda change: change.difference is not None)
        if top > 0:
            table.add_row(Text(f"{kind}s", style="bold"))
        for change in rows[:top]:
            table.add_row(*_change_row(change))
        hidden += rows[top:]
    console.print(table)
    if hidden:
        console.print(_hidden_words(hidden), style="dim")
    console.print(
        "Both releases are compared repeat by repeat. Better and worse: the 95 % interval excludes 0.",
        style="dim",
    )
    console.print(CAUTION, style="dim")


def _hidden_words(hidden: Sequence[Change]) -> str:
    incomparable = sum(change.difference is None for change in hidden)
    parts = [f"{counted(incomparable, 'number')} that cannot be compared"] if incomparable else []
    if len(hidden) > incomparable:
        parts.append(counted(len(hidden) - incomparable, "smaller change"))
    return f"Not shown: {' and '.join(parts)}; --top shows more."


def print_checks(
    console: Console, checks: Sequence[Check], decision: Decision, signed: Sequence[SignOffToday]
) -> None:
    """Print every reason against a release, what the limits do not cover, the verdict, and who signed."""
    failed = [check for check in checks if not check.is_passed]
    for check in failed:
        _print_reasons(console, check)
    for check in checks:
        if check.waived:
            console.print(Text(f"waived, {check.name}: {check.waived}"))
    passed = len(checks) - len(failed)
    result = "does not pass" if failed else "passes"
    console.print(f"Release {decision.release} {result}: {passed} of {len(checks)} checks met.", style="bold")
    console.print(Text(f"{decision.verdict}."))
    for objection in decision.poor:
        console.print(Text(objection.words))
    for line in sign_off_lines(signed) if signed else ():
        console.print(Text(line))
    console.print(CAUTION, style="dim")


def _print_reasons(console: Console, check: Check) -> None:
    """Print the reasons of a check, several on a line each; beyond `MOST_REASONS` they are only counted."""
    if len(check.reasons) == 1:
        console.print(Text(f"{check.name}: {check.reason}"))
        return
    console.print(Text(f"{check.name}:"))
    for reason in check.reasons[:MOST_REASONS]:
        console.print(Padding(Text(reason), (0, 0, 0, 2)))
    if len(check.reasons) > MOST_REASONS:
        console.print(f"  {len(check.reasons) - MOST_REASONS} more, listed by --json and --junit")


def _print_evidence(console: Console, release: ReleaseScore, evidence: ReleaseEvidence) -> None:
    """Print the uncertainty of the release and what it stands on less than it should."""
    console.print(Text(uncertainty_words(release)))
    marks = evidence.marks()
    if marks:
        console.print(Text(f"Incomplete: {', '.join(marks)}. 'correlate gate' lists them."), style="bold")
    if evidence.flags:
        words = ", ".join(f"{name} ({counted(count, 'pair')})" for name, count in evidence.flags.items())
        console.print(Text(f"Warnings beside ratings: {words}. 'correlate score --csv' names the pairs."))
    for waived in evidence.waived:
        finding = waived.finding
        console.print(Text(f"{finding.kind} in {finding.short_place}, {waived.waiver.words}"))
    for released in evidence.released:
        console.print(Text(released.words))


def _release_table(release: ReleaseScore) -> TextTable:
    table = TextTable(title=f"Release {release.release}", gap=1)
    table.add_column("what")
    for heading in ("overall", "range", "share"):
        table.add_column(heading, justify="right")
    table.add_column("grade")
    table.add_column("rated", justify="right")
    _add_rows(table, release.training, "overall", 0)
    if release.held_out is not None:
        _add_rows(table, release.held_out, "held out", 0)
    for region in release.regions:
        table.add_row(*_row(region, f"region {region.words}", 0))
    return table


def _add_rows(table: TextTable, score: Score, words: str, depth: int) -> None:
    style = "bold" if depth <= 1 else ""
    table.add_row(*_row(score, words, depth), style=style)
    for part in score.parts:
        _add_rows(table, part, part.words, depth + 1)


def _row(score: Score, words: str, depth: int) -> list[str | Text]:
    spread = (
        f"{score.lowest:.3f}–{score.highest:.3f}"
        if score.kind == "channel" and score.lowest is not None and score.highest is not None
        else ""
    )
    return [
        Text("  " * depth + words),
        _number(score.overall),
        spread,
        f"{score.weight:.0%}" if depth else "",
        score.grade or ("not rated" if score.overall is None else ""),
        "" if score.kind == "channel" else f"{score.rated} of {score.expected}",
    ]


def _change_row(change: Change) -> list[str | Text]:
    difference = NONE if change.difference is None else signed(change.difference)
    verdict = "; ".join([chance_brief(change), *change.marks])
    return [
        Text(f"  {_where(change)}"),
        _number(change.before),
        _number(change.after),
        difference,
        difference_interval(change),
        Text(verdict),
    ]


def _where(change: Change) -> str:
    """Name what changed for people: the load case and the words of a channel, not its code."""
    if not change.place:
        return "held-out load cases" if change.held_out else "all load cases"
    marked = " (held out)" if change.held_out else ""
    if change.kind == "channel":
        return f"{change.place[0]}{marked}: {change.words}"
    return f"{change.place[-1]}{marked}"


def _print_gaps(console: Console, scores: CampaignScores) -> None:
    if scores.unrated:
        console.print(f"Not rated: {counted(len(scores.unrated), 'pair')}", style="bold")
        for line in unrated_lines(scores.unrated):
            console.print(Padding(Text(line), (0, 0, 0, 2)))
    for gap in scores.unpaired:
        where = f"{gap.load_case}, release {gap.release}" if gap.release else gap.load_case
        if gap.channels:
            listed = ", ".join(gap.channels)
            console.print(f"Unpaired {gap.side} channels of {where}: {listed}", style="dim")
        if gap.set_aside:
            count = len(gap.set_aside)
            console.print(f"Unpaired {gap.side} channels of {where} that cannot be used: {count}")
            for sentence in gap.set_aside:
                console.print(f"  {sentence}", style="yellow")


def _number(value: float | None) -> str:
    return NONE if value is None else f"{value:.3f}"
