"""Where one pair loses its rating, in the terminal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from rich.table import Table
from rich.text import Text

from correlate.diagnosis.accounting import largest_stretches
from correlate.plots.explanation_words import (
    CHANGES,
    HINTS_WAIT,
    MODEL_IS_ZERO,
    NO_HINT,
    NO_SUSPECT,
    change_words,
    for_a_pair,
    hint_words,
    points,
    stretch_words,
    suspect_words,
)
from correlate.plots.wording import channel_title, delay_in_words, number, unit_words
from correlate.report.explain_terminal import print_cautions, print_heading, print_indented

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from correlate.campaign.pair_explanation import PairExplanation
    from correlate.diagnosis.accounting import LossAccount
    from correlate.diagnosis.differences import FeatureDifference
    from correlate.diagnosis.what_if import WhatIf

MOST_STRETCHES: Final = 5
"""Stretches of time that are printed."""
NONE: Final = "–"


def print_pair_explanation(console: Console, found: PairExplanation, *, top: int) -> None:
    """Print where one pair loses its rating and what may lie behind it.

    Parameters
    ----------
    console
        Where to.
    found
        The explanation.
    top
        Most lines of a table.
    """
    score, title = found.score, channel_title(found.score.reference.channel)
    console.print(
        f"{title} against {score.candidate.channel}: {_headline(found)}",
        style="bold",
        markup=False,
    )
    for flag in score.flags:
        print_indented(console, f"{flag.name}: {flag.sentence}")
    print_heading(console, "Where it is lost")
    _print_account(console, found.account, min(top, MOST_STRETCHES))
    print_heading(console, "What a change of the model curve would gain")
    if found.model_is_zero:
        print_indented(console, MODEL_IS_ZERO)
    else:
        console.print(_what_if_table(found.what_if, score.reference.unit))
    print_heading(console, "Suspected data-handling errors")
    for suspect in found.suspects:
        print_indented(console, suspect_words(for_a_pair(suspect)))
    if not found.suspects:
        print_indented(console, MODEL_IS_ZERO if found.model_is_zero else NO_SUSPECT)
    print_heading(console, "Features that differ")
    if found.differences:
        console.print(_difference_table(found.differences[:top]))
    else:
        print_indented(console, "none can be determined: the model is zero throughout")
    print_heading(console, "Hints about material behaviour")
    for words in _hints(found, title):
        print_indented(console, words)
    print_cautions(console)


def _headline(found: PairExplanation) -> str:
    rating = found.score.rating
    if found.model_is_zero:
        return f"{MODEL_IS_ZERO} The rating of {rating.overall:.3f} says nothing of such a model."
    lost = f"{points(found.account.total)} lost"
    return f"rating {rating.overall:.3f} ({rating.grade}), {lost}, {delay_in_words(rating.shift_s)}"


def _hints(found: PairExplanation, title: str) -> list[str]:
    if found.model_is_zero:
        return ["none can be determined: the model is zero throughout"]
    if found.hints_wait:
        return [HINTS_WAIT]
    said = [hint_words(hint, {found.score.reference.channel: title}) for hint in found.hints]
    return said or [NO_HINT]


def _print_account(console: Console, account: LossAccount, count: int) -> None:
    table = Table(box=None, padding=(0, 2, 0, 0))
    table.add_column("component")
    table.add_column("points", justify="right")
    table.add_column("")
    for name, loss in sorted(account.by_component.items(), key=lambda item: -item[1]):
        clamped = "beyond the limit, divided in proportion to error" if name in account.clamped else ""
        table.add_row(name, f"{loss:.3f}", clamped)
    console.print(table)
    for stretch in largest_stretches(account, count):
        console.print(f"{stretch_words(stretch)}: {points(stretch.loss)}, mostly {stretch.mostly}")


def _what_if_table(found: WhatIf, unit: str) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0))
    table.add_column("change")
    table.add_column("best", overflow="fold")
    table.add_column("rating", justify="right")
    table.add_column("gain", justify="right")
    for name in CHANGES:
        best = getattr(found, name)
        words = change_words(best.change, unit, best.at_limit) or "none helps"
        table.add_row(name, Text(words), f"{best.rating.overall:.3f}", f"{best.gain:+.3f}")
    return table


def _difference_table(differences: Sequence[FeatureDifference]) -> Table:
    table = Table(box=None, padding=(0, 2, 0, 0))
    table.add_column("feature")
    for heading in ("test", "model", "difference"):
        table.add_column(heading, justify="right")
    table.add_column("unit")
    table.add_column("explains", justify="right")
    for one in differences:
        factor, unit = (1e3, "ms") if one.unit == "s" else (1.0, "" if one.unit == "1" else one.unit)
        values = [_four_digits(value, factor) for value in (one.test, one.model, one.difference)]
        explained = NONE if one.explained is None else f"{one.explained:+.3f}".replace("-", "−")
        table.add_row(one.name, *values, Text(unit_words(unit).replace("*", "·")), explained)
    return table


def _four_digits(value: float | None, factor: float) -> str:
    return NONE if value is None else number(float(f"{value * factor:.4g}"))
