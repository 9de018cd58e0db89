"""The data check in the terminal."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

from rich.padding import Padding
from rich.text import Text

from correlate.plots.wording import channel_title

if TYPE_CHECKING:
    from rich.console import Console

    from correlate.reference.check import CheckOutcome
    from correlate.reference.finding import Finding

_STYLES: Final = {"error": "bold red", "warning": "yellow", "note": "dim"}
CHECK_CAUTION: Final = (
    "The check finds contradictions; data without a finding may still be wrong. Nothing was changed."
)
"""Under every check report."""


def print_check(console: Console, outcome: CheckOutcome) -> None:
    """Print the findings, worst first, and one line of counts.

    Parameters
    ----------
    console
        Where to.
    outcome
        Of the check.
    """
    for finding in outcome.findings:
        console.print(_head(finding))
        for words in _lines(finding):
            console.print(Padding(words, (0, 0, 0, 4)))
    for waived in outcome.waived:
        console.print(_head(waived.finding))
        console.print(Padding(Text(waived.waiver.words), (0, 0, 0, 4)))
    for waiver in outcome.unused_waivers:
        place = " ".join(word for word in (waiver.test, waiver.channel) if word)
        console.print(f"Not needed: the waiver of '{waiver.finding}' for {place}; remove its line.")
    console.print(outcome.in_words, style="bold")
    console.print(CHECK_CAUTION, style="dim")


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
