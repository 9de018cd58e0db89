"""The data check as a page that needs no other file and no network."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from correlate.plots.finding import finding_figure
from correlate.plots.graph import figure_html
from correlate.plots.wording import channel_title, unit_words
from correlate.report.check_terminal import CHECK_CAUTION
from correlate.report.html import render_page

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from correlate.reference.check import CheckOutcome
    from correlate.reference.finding import Finding
    from correlate.signal import Signal

    Curves = Callable[[Finding], tuple[Signal, Sequence[Signal]]]

MOST_FIGURES: Final = 40
"""Findings beyond these are listed without a picture."""


def check_html(outcome: CheckOutcome, *, title: str, curves: Curves | None = None) -> str:
    """Write a check as a page: findings with evidence and picture, figures of every channel.

    Parameters
    ----------
    outcome
        Of the check.
    title
        Heading.
    curves
        Returns the channel of a finding and the same channel in other repeats; None for a page without
        pictures.

    Returns
    -------
    str
        A whole HTML document. Every text that comes from a file is escaped.
    """
    return render_page(
        "check.html",
        title=title,
        words=outcome.in_words,
        check_caution=CHECK_CAUTION,
        findings=[
            _finding(finding, curves if i < MOST_FIGURES else None)
            for i, finding in enumerate(outcome.findings)
        ],
        waived=outcome.waived,
        unused=outcome.unused_waivers,
        channels=[
            {
                "item": item,
                "title": channel_title(item.channel),
                "test": Path(item.file).name,
                "unit": unit_words(item.unit),
            }
            for item in outcome.channels
        ],
        load_cases={name: [Path(test).name for test in tests] for name, tests in outcome.load_cases.items()},
    )


def _finding(finding: Finding, curves: Curves | None) -> dict[str, Any]:
    figure = ""
    if curves is not None and finding.kind != "missing channel":
        signal, others = curves(finding)
        figure = figure_html(finding_figure(finding, signal, theme="light", others=others))
    return {
        "finding": finding,
        "title": channel_title(finding.channel),
        "test": Path(finding.file).name,
        "evidence": [(key.replace("_", " "), _number(value)) for key, value in finding.evidence.items()],
        "figure": figure,
    }


def _number(value: float | str) -> str:
    return value if isinstance(value, str) else f"{value:.6g}"
