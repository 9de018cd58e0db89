"""The data check in the terminal and as JSON."""

from __future__ import annotations

import json
import math
from dataclasses import asdict
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from rich.padding import Padding
from rich.text import Text

from correlate.errors import printable
from correlate.plots.wording import channel_title
from correlate.reference.finding import SEVERITIES, equal_findings, places_of
from correlate.toml import toml_entry
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from rich.console import Console

    from correlate.reference.check import CheckOutcome
    from correlate.reference.finding import Finding


_HEAD = """\
# Proposed repairs. Nothing is repaired until someone accepts it: enter who accepts a repair after
# accepted_by, delete the entries that are wrong, and run: correlate repair THIS-FILE --out FOLDER
"""


def check_object(outcome: CheckOutcome) -> dict[str, Any]:
    """Return the outcome of a check as plain values."""
    return {
        "counts": {severity: outcome.count(severity) for severity in SEVERITIES},
        "findings": [_finding(finding) for finding in outcome.findings],
        "waived": [
            {**_finding(one.finding), "waiver": one.waiver.model_dump(mode="json")} for one in outcome.waived
        ],
        "unused_waivers": [one.model_dump(mode="json") for one in outcome.unused_waivers],
        "channels": [
            {key: _plain(value) for key, value in asdict(item).items()} for item in outcome.channels
        ],
        "load_cases": {name: list(tests) for name, tests in outcome.load_cases.items()},
        "version": VERSION,
    }


def check_json(outcome: CheckOutcome) -> str:
    """Return the outcome of a check as JSON text."""
    return json.dumps(check_object(outcome), indent=2, ensure_ascii=False, allow_nan=False)


def repairs_toml(outcome: CheckOutcome) -> str:
    """Return the proposed repairs as a TOML file in which they can be accepted."""
    entries = [_HEAD]
    for finding in outcome.findings:
        if finding.repair is None:
            continue
        table = {
            "test": finding.file,
            "channel": finding.channel,
            "repair": finding.repair.name,
            "settings": dict(finding.repair.settings),
            "reason": printable(f"{finding.kind}: {finding.what}"),
            "accepted_by": "",
        }
        entries.append(toml_entry("[[repair]]", table))
    return "\n".join(entries)


def _finding(finding: Finding) -> dict[str, Any]:
    repair = finding.repair
    return {
        "kind": finding.kind,
        "severity": finding.severity,
        "file": finding.file,
        "channel": finding.channel,
        "what": finding.what,
        "remedy": finding.remedy,
        "evidence": _plain(finding.evidence),
        "start_s": finding.start_s,
        "end_s": finding.end_s,
        "repair": None if repair is None else {"name": repair.name, "settings": _plain(repair.settings)},
    }


def _plain(value: Any) -> Any:
    """Return a value that JSON knows: no tuples, and null where a number is not finite."""
    if isinstance(value, float):
        return value if math.isfinite(value) else None
    if hasattr(value, "items"):
        table: Mapping[str, Any] = value
        return {key: _plain(entry) for key, entry in table.items()}
    if isinstance(value, tuple | list):
        return [_plain(entry) for entry in value]
    return value


_STYLES: Final = {"error": "bold red", "warning": "yellow", "note": "dim"}
CHECK_CAUTION: Final = (
    "The check finds contradictions; data without a finding may still be wrong. Nothing was changed."
)
"""Under every check report."""


def print_check(console: Console, outcome: CheckOutcome) -> None:
    """Print the findings, worst first, and one line of counts."""
    for group in equal_findings(outcome.findings):
        console.print(_head(group[0]) if len(group) == 1 else _head_of_many(group))
        for words in _lines(group[0]):
            console.print(Padding(words, (0, 0, 0, 4)))
    for waived in outcome.waived:
        console.print(_head(waived.finding))
        console.print(Padding(Text(waived.waiver.words), (0, 0, 0, 4)))
    for waiver in outcome.unused_waivers:
        place = " ".join(word for word in (waiver.test, waiver.channel) if word)
        console.print(f"Not needed: the waiver of '{waiver.finding}' for {place}; remove its line.")
    console.print(outcome.in_words, style="bold")
    console.print(CHECK_CAUTION, style="dim")


def _head_of_many(group: Sequence[Finding]) -> Text:
    head = Text(group[0].severity, style=_STYLES[group[0].severity])
    head.append(f"  {group[0].kind}", style="bold")
    return head.append(f"  {places_of(group)}", style="none")


def _head(finding: Finding) -> Text:
    head = Text(finding.severity, style=_STYLES[finding.severity])
    head.append(f"  {finding.kind}", style="bold")
    place = channel_title(finding.channel) if finding.channel else "whole test"
    for words in (Path(finding.file).name, place, finding.span_words):
        if words:
            head.append(f"  {words}", style="none")
    return head


def _lines(finding: Finding) -> list[Text]:
    lines = [Text(finding.what), Text(f"→ {finding.remedy}", style="dim")]
    if finding.repair is not None:
        lines.append(Text(f"proposed repair: {finding.repair.name}", style="dim"))
    return lines
