"""Ratings of unfinished runs in the terminal and as JSON."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import TYPE_CHECKING

from rich.padding import Padding
from rich.text import Text

from correlate.campaign.unrated_words import unrated_lines
from correlate.plots.wording import CAUTION
from correlate.report.table import TextTable
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from correlate.campaign import Campaign
    from correlate.campaign.unfinished import CaseSoFar


def print_so_far(console: Console, found: Sequence[CaseSoFar]) -> None:
    """Print one line per load case and release: until when it was rated, and how."""
    table = TextTable()
    table.add_column("release")
    table.add_column("load case")
    table.add_column("rated")
    table.add_column("pairs", justify="right")
    table.add_column("rating so far", justify="right")
    for one in found:
        rating = "–" if one.score is None or one.score.overall is None else f"{one.score.overall:.3f}"
        table.add_row(one.release, one.load_case, _until(one), str(len(one.records)), rating)
    console.print(table)
    for one in found:
        if one.reason:
            console.print(Padding(Text(one.reason), (0, 0, 0, 2)))
        for line in unrated_lines(one.unrated):
            console.print(Padding(Text(line), (0, 0, 0, 2)))


def print_part_caution(console: Console) -> None:
    """Print what a rating of a part of the interval is not."""
    console.print(
        "A rating of part of the interval is not a rating of the release. It is not saved or compared.",
        style="bold",
    )
    console.print(CAUTION, style="dim")


def _until(one: CaseSoFar) -> str:
    if one.until_ms is None:
        return "nothing yet"
    if one.until_ms == one.end_ms:
        return f"complete, {one.end_ms:.6g} ms"
    return f"until {one.until_ms:.6g} ms of {one.end_ms:.6g} ms"


def so_far_json(campaign: Campaign, found: Sequence[CaseSoFar]) -> str:
    """Return the ratings of unfinished runs as JSON text."""
    cases = [
        {
            "release": one.release,
            "load_case": one.load_case,
            "until_ms": one.until_ms,
            "end_ms": one.end_ms,
            "reason": one.reason,
            "overall": None if one.score is None else one.score.overall,
            "pairs": [asdict(record) for record in one.records],
            "unrated": [asdict(entry) for entry in one.unrated],
        }
        for one in found
    ]
    content = {"campaign": campaign.title, "version": VERSION, "unfinished": cases}
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)
