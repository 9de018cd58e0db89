"""What the tests say of the cards, in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from rich.text import Text

from correlate.plots.wording import CAUTION
from correlate.report.table import TextTable

if TYPE_CHECKING:
    from rich.console import Console

    from correlate.tuning.cards import CardsPosterior

MOST_DIRECTIONS: Final = 3
"""Directions that are printed, the least determined first."""
MOST_WINDOWS: Final = 10
"""Windows that are printed, the largest first."""
NAMED: Final = 0.25
"""A parameter with a smaller share of a direction is not named."""


def print_cards(console: Console, cards: CardsPosterior) -> None:
    """Print intervals, directions, what is not determined, and where no card helps."""
    for doubt in cards.doubts:
        console.print(Text(_sentence(doubt)), style="bold")
    grid = TextTable()
    for word in ("parameter", "from", "to", "start", "best run", "median", "95 % between", "range left"):
        grid.add_column(word)
    for one in cards.intervals:
        numbers = [f"{value:.4g}" for value in (one.lower, one.upper, one.start, one.best, one.median)]
        grid.add_row(
            Text(f"{one.name} [{one.unit}]"), *numbers, f"{one.low:.4g} and {one.high:.4g}", f"{one.left:.0%}"
        )
    console.print(grid)
    console.print(f"Best run: {cards.best}. Least determined there:")
    for direction in cards.directions[:MOST_DIRECTIONS]:
        named = sorted(direction.shares.items(), key=lambda share: -abs(share[1]))
        shown = ", ".join(
            f"{share:+.2f} {name}".replace("-", "−") for name, share in named if abs(share) >= NAMED
        )
        console.print(Text(f"  ± {direction.deviation:.3f} of the range along {shown}"))
    for words in cards.undetermined:
        console.print(Text(_sentence(words)))
    if not cards.undetermined:
        console.print(
            "The tests determine every parameter there, and no exchange of parameters is left open."
        )
    console.print(Text("Where no card helps"), style="bold")
    for number, window in enumerate(cards.windows[:MOST_WINDOWS], start=1):
        console.print(Text(f"{number}. {window.words}"))
    if len(cards.windows) > MOST_WINDOWS:
        console.print(f"{len(cards.windows) - MOST_WINDOWS} smaller ones are in cards.json.")
    if not cards.windows:
        console.print("Nowhere: the curves of the best cards differ from the tests no more than by chance.")
    console.print(CAUTION, style="dim")


def _sentence(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}."
