"""What the tests say of the cards, in the terminal."""

from __future__ import annotations

import io
from dataclasses import replace
from typing import TYPE_CHECKING

from rich.console import Console

from correlate.report.tuning_cards import MOST_WINDOWS, print_cards
from tests.tuning.test_cards import WINDOW, cards

if TYPE_CHECKING:
    from correlate.tuning.cards import CardsPosterior


def printed(found: CardsPosterior) -> str:
    """Return what is printed, in one line."""
    out = io.StringIO()
    print_cards(Console(file=out, width=140, highlight=False), found)
    return " ".join(out.getvalue().split())


def test_intervals_directions_and_windows_are_printed() -> None:
    """A line a parameter, the least determined direction, what is not determined, and where no card helps."""
    shown = printed(cards())
    assert "x0 [1] 0 2 1 1 1 0.8 and 1.2 20%" in shown
    assert "± 0.289 of the range along −0.80 x1, +0.60 x0" in shown
    assert "The tests do not determine 'x1'." in shown
    assert f"1. {WINDOW.words}" in shown


def test_nothing_wrong_is_said_and_doubts_come_first() -> None:
    """No window, nothing undetermined; and a chain that did not converge is the first thing said."""
    fine = printed(replace(cards(), windows=(), undetermined=()))
    assert "None: the best-fit curves differ from the tests by no more than chance." in fine
    assert "The tests determine every parameter there" in fine
    assert printed(replace(cards(), converged=False)).startswith("The sampling did not converge")
    many = printed(replace(cards(), windows=(WINDOW,) * (MOST_WINDOWS + 2)))
    assert "2 smaller ones are listed in cards.json." in many


def test_a_best_run_outside_the_intervals_is_said() -> None:
    """The reader learns that run and intervals disagree, and of which parameter."""
    found = cards()
    moved = replace(found.intervals[0], best=found.intervals[0].high + 0.1)
    shown = printed(replace(found, intervals=(moved, *found.intervals[1:])))
    assert f"The best run lies outside the interval of {moved.name}" in shown
