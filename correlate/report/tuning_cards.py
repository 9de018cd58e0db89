"""The posterior of the parameters, in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from rich.text import Text

from correlate.plots.wording import CAUTION, as_sentence
from correlate.report.table import TextTable

if TYPE_CHECKING:
    from rich.console import Console

    from correlate.tuning.cards import CardsPosterior

MOST_DIRECTIONS: Final = 3
"""Directions that are printed, the least determined first."""
MOST_WINDOWS: Final = 10
"""Windows that are printed, the largest first."""
NAMED: Final = 0.25
"""A parameter with a smaller share in a direction is not named."""


def print_cards(console: Console, cards: CardsPosterior) -> None:
    """Print intervals, directions, what is not determined, and the model discrepancy."""
    for doubt in cards.doubts:
        console.print(Text(as_sentence(doubt)), style="bold")
    grid = TextTable()
    for word in ("parameter", "from", "to", "start", "best run", "median", "95 % between", "share of range"):
        grid.add_column(word)
    for one in cards.intervals:
        numbers = [f"{value:.4g}" for value in (one.lower, one.upper, one.start, one.best, one.median)]
        grid.add_row(
            Text(f"{one.name} [{one.unit}]"), *numbers, f"{one.low:.4g} and {one.high:.4g}", f"{one.left:.0%}"
        )
    console.print(grid)
    for words in _disagreement(cards):
        console.print(words)
    console.print(f"Best run: {cards.best}. Least determined directions there:")
    for direction in cards.directions[:MOST_DIRECTIONS]:
        named = sorted(direction.shares.items(), key=lambda share: -abs(share[1]))
        shown = ", ".join(
            f"{share:+.2f} {name}".replace("-", "−") for name, share in named if abs(share) >= NAMED
        )
        console.print(Text(f"  ± {direction.deviation:.3f} of the range along {shown}"))
    for words in cards.undetermined:
        console.print(Text(as_sentence(words)))
    if not cards.undetermined:
        console.print(
            "The tests determine every parameter there, and no parameters can be traded against each other."
        )
    _print_windows(console, cards)
    console.print(CAUTION, style="dim")


def _print_windows(console: Console, cards: CardsPosterior) -> None:
    console.print(Text("Model discrepancy (tests against the best-fit curves)"), style="bold")
    for number, window in enumerate(cards.windows[:MOST_WINDOWS], start=1):
        console.print(Text(f"{number}. {window.words}"))
    if len(cards.windows) > MOST_WINDOWS:
        console.print(f"{len(cards.windows) - MOST_WINDOWS} smaller ones are listed in cards.json.")
    if not cards.windows:
        console.print("None: the best-fit curves differ from the tests by no more than chance.")


def _disagreement(cards: CardsPosterior) -> list[str]:
    """Say where the best run lies outside the intervals."""
    outside = [one.name for one in cards.intervals if not one.low <= one.best <= one.high]
    if not outside:
        return []
    words = (
        f"The best run lies outside the interval of {', '.join(outside)}. The intervals come from whole "
        "curves with an allowance for model discrepancy, the best run from its rating; run both before "
        "relying on either."
    )
    return [words]
