"""Runs and change lists of tuning as text for files."""

from __future__ import annotations

import csv
import io
import math
from typing import TYPE_CHECKING

from correlate.plots.wording import CAUTION

if TYPE_CHECKING:
    from correlate.tuning.release import TunedRelease
    from correlate.tuning.runs import RunTable


def runs_csv(table: RunTable) -> str:
    """Return a line a design point: name, round, status, parameters, outcomes.

    Parameters
    ----------
    table
        Of the runs.

    Returns
    -------
    str
        Empty cells where a run has no such outcome.
    """
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow(["point", "round", "status", *table.space.names, *table.outcomes])
    for row, identity in enumerate(table.identities):
        outcomes = [float(values[row]) for values in table.outcomes.values()]
        writer.writerow(
            [
                identity,
                int(table.rounds[row]),
                table.status[row],
                *(repr(float(value)) for value in table.points[row]),
                *("" if math.isnan(value) else repr(value) for value in outcomes),
            ]
        )
    return out.getvalue()


def changes_text(release: TunedRelease, name: str) -> str:
    """Return the change list of a release as a page of text.

    Parameters
    ----------
    release
        What was changed and what it bought.
    name
        Of the release.

    Returns
    -------
    str
        Markdown.
    """
    lines = [f"# Release {name}: changes against the start point", ""]
    lines += ["| parameter | unit | old | new | change |", "| --- | --- | ---: | ---: | ---: |"]
    for change in release.changes:
        edge = " (at a bound)" if change.at_bound else ""
        lines.append(
            f"| {change.name}{edge} | {change.unit} | {change.old:g} | {change.new:g} | "
            f"{percent_words(change.percent)} |"
        )
    lines += ["", "Gain in rating points:", ""]
    lines += ["| rating | old | new | change |", "| --- | ---: | ---: | ---: |"]
    lines += [
        f"| {gain.outcome} | {gain.old:.3f} | {gain.new:.3f} | {gain.change:+.3f} |" for gain in release.gains
    ]
    if release.losses:
        lines += ["", "Limits violated:", "", *(f"- {loss}" for loss in release.losses)]
    return "\n".join([*lines, "", f"Run {release.run} against {release.start}. {CAUTION}", ""])


def percent_words(percent: float | None) -> str:
    """Return a change in percent in words."""
    return "–" if percent is None else f"{percent:+.1f} %"
