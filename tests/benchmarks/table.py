"""Measure two ways of doing one thing in turn, so that both meet the same moods of the machine."""

from __future__ import annotations

import statistics
import time
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable


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
        Least ratio aimed at.
    """

    name: str
    ours_s: float
    peer_s: float
    ratio: float
    lowest: float
    highest: float
    goal: float

    @property
    def is_met(self) -> bool:
        """Whether the median reaches the goal."""
        return self.ratio >= self.goal


def compare(
    name: str,
    ours: Callable[[], object],
    peer: Callable[[], object],
    *,
    goal: float,
    repetitions: int = 5,
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
        How often each is timed.

    Returns
    -------
    Row
    """
    ours()
    peer()
    pairs = [(_seconds(ours), _seconds(peer)) for _ in range(repetitions)]
    ratios = [theirs / mine for mine, theirs in pairs]
    return Row(
        name=name,
        ours_s=statistics.median(mine for mine, _ in pairs),
        peer_s=statistics.median(theirs for _, theirs in pairs),
        ratio=statistics.median(ratios),
        lowest=min(ratios),
        highest=max(ratios),
        goal=goal,
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
    lines = [
        "| what | ours (ms) | peer (ms) | times faster, median | range | goal | met |",
        "| --- | ---: | ---: | ---: | ---: | ---: | --- |",
    ]
    lines += [
        f"| {row.name} | {row.ours_s * 1e3:.3g} | {row.peer_s * 1e3:.3g} | {row.ratio:.2f} "
        f"| {row.lowest:.2f}–{row.highest:.2f} | {row.goal:g} | {'yes' if row.is_met else 'NO'} |"
        for row in rows
    ]
    return "\n".join(lines)


def _seconds(call: Callable[[], object]) -> float:
    start = time.perf_counter()
    call()
    return time.perf_counter() - start
