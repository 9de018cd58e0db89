"""Measure two ways of doing one thing in turn, so that both meet the same moods of the machine."""

from __future__ import annotations

import statistics
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

HEADING = (
    "| what | ours (ms) | peer (ms) | peer / ours, median | range | goal | met | ours adds (MB) |\n"
    "| --- | ---: | ---: | ---: | ---: | ---: | --- | ---: |"
)


@dataclass(frozen=True, slots=True)
class Row:
    """One measured comparison.

    Attributes
    ----------
    name
        What was compared.
    ours_s, peer_s
        Median times, in s.
    ratio, lowest, highest
        Peer's time over ours: median and range over the repetitions; above 1 means we are faster.
    goal
        Least ratio aimed at; None where nobody set one.
    peak_mb
        Memory that ours adds at its peak; None where it was not measured.
    """

    name: str
    ours_s: float
    peer_s: float
    ratio: float
    lowest: float
    highest: float
    goal: float | None
    peak_mb: float | None = None

    def __str__(self) -> str:
        """Return the row of the table."""
        goal = "–" if self.goal is None else f"{self.goal:g}"
        met = "–" if self.goal is None else "yes" if self.ratio >= self.goal else "NO"
        peak = "–" if self.peak_mb is None else f"{self.peak_mb:.3g}"
        return (
            f"| {self.name} | {self.ours_s * 1e3:.3g} | {self.peer_s * 1e3:.3g} | {self.ratio:.2f} "
            f"| {self.lowest:.2f}–{self.highest:.2f} | {goal} | {met} | {peak} |"
        )


def compare(
    name: str,
    ours: Callable[[], object],
    peer: Callable[[], object],
    *,
    goal: float | None = None,
    repetitions: int = 7,
    times: int = 1,
    peak_mb: float | None = None,
) -> Row:
    """Time both in alternation, after one unmeasured call each.

    Parameters
    ----------
    name
        What is compared.
    ours, peer
        The two ways, without arguments.
    goal
        Least ratio aimed at.
    repetitions
        How often each is timed, 5 or more.
    times
        Calls in one timing, for what is over in less than a few milliseconds.
    peak_mb
        From :func:`tests.benchmarks.memory.added_peak_mb`.

    Returns
    -------
    Row
    """
    ours()
    peer()
    pairs = [(seconds(ours, times), seconds(peer, times)) for _ in range(repetitions)]
    return row_of(name, pairs, goal=goal, peak_mb=peak_mb)


def row_of(
    name: str,
    pairs: list[tuple[float, float]],
    *,
    goal: float | None = None,
    peak_mb: float | None = None,
) -> Row:
    """Make a row of times that were measured in alternation.

    Parameters
    ----------
    name
        What is compared.
    pairs
        One a repetition: seconds of ours, seconds of the peer.
    goal, peak_mb
        As in :class:`Row`.

    Returns
    -------
    Row
    """
    ratios = [theirs / mine for mine, theirs in pairs]
    return Row(
        name=name,
        ours_s=statistics.median(mine for mine, _ in pairs),
        peer_s=statistics.median(theirs for _, theirs in pairs),
        ratio=statistics.median(ratios),
        lowest=min(ratios),
        highest=max(ratios),
        goal=goal,
        peak_mb=peak_mb,
    )


def table(rows: Iterable[Row]) -> str:
    """Return the rows as a Markdown table.

    Parameters
    ----------
    rows
        Measured comparisons.

    Returns
    -------
    str
    """
    return "\n".join([HEADING, *map(str, rows)])


def seconds(call: Callable[[], object], times: int = 1) -> float:
    """Return the seconds that one call takes, as the mean of several.

    Parameters
    ----------
    call
        Without arguments.
    times
        Calls.

    Returns
    -------
    float
    """
    start = time.perf_counter()
    for _ in range(times):
        call()
    return (time.perf_counter() - start) / times
