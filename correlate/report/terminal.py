"""Ratings in the terminal: tables and a sketch of both curves."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np
import plotille
from rich.table import Table
from rich.text import Text

from correlate.plots.wording import CAUTION, delay_in_words

if TYPE_CHECKING:
    from collections.abc import Iterable

    from rich.console import Console

    from correlate.campaign import PairScore
    from correlate.report.summary import ChannelSummary

SKETCH_HEIGHT: Final = 14
LABEL_WIDTH: Final = 13
"""Characters that the sketch spends on its upright axis."""
AXIS_END: Final = 8
"""Characters that the sketch spends on the name of its lower axis."""


def print_pair(console: Console, score: PairScore) -> None:
    """Print the rating of one pair: what was compared, the scores, a sketch, a caution.

    Parameters
    ----------
    console
        Where to.
    score
        A rated pair.
    """
    rating = score.rating
    console.print(_inputs(score))
    table = Table(box=None, padding=(0, 2, 0, 0))
    table.add_column("component")
    table.add_column("score", justify="right")
    table.add_column("what it compares")
    for name, value, words in (
        ("corridor", rating.corridor, "closeness at each instant"),
        ("phase", rating.phase, delay_in_words(rating.shift_s)),
        ("magnitude", rating.magnitude, "size, after time warping"),
        ("slope", rating.slope, "rise and fall"),
    ):
        table.add_row(name, f"{value:.3f}", words)
    table.add_row("overall", f"{rating.overall:.3f}", rating.grade, style="bold")
    console.print(table)
    for flag in score.flags:
        console.print(Text(f"{flag.name}: {flag.sentence}"))
    if console.width >= 40:
        console.print(Text.from_ansi(sketch(score, width=min(console.width, 110))))
    console.print(CAUTION, style="dim")


def sketch(score: PairScore, *, width: int) -> str:
    """Draw both curves with characters: the test as a line, the model as crosses.

    Parameters
    ----------
    score
        A rated pair.
    width
        Columns of the terminal.

    Returns
    -------
    str
        Without colours, so that it can be copied into a mail.
    """
    pair = score.rating.pair
    time = pair.time * 1e3
    columns = max(20, width - LABEL_WIDTH - AXIS_END)
    marks = np.unique(np.linspace(0, time.size - 1, columns // 2).astype(int))
    lowest = float(min(pair.reference.min(), pair.candidate.min()))
    highest = float(max(pair.reference.max(), pair.candidate.max()))
    # A curve that rests at an edge of the sketch would not be drawn.
    margin = 0.05 * (highest - lowest)
    low, high = lowest - margin, highest + margin
    figure = plotille.Figure()
    figure.with_colors = False
    figure.width, figure.height = columns, SKETCH_HEIGHT
    figure.x_label, figure.y_label = "ms", score.reference.unit
    figure.set_x_limits(float(time[0]), float(time[-1]))
    figure.set_y_limits(low, high if high > low else low + 1.0)
    figure.x_ticks_fkt = figure.y_ticks_fkt = _tick
    figure.plot(time, pair.reference, label="test")
    figure.scatter(time[marks], pair.candidate[marks], label="model", marker="x")
    drawn: str = figure.show(legend=False)
    return f"{drawn}\n{'':{LABEL_WIDTH - 2}}line: test   x: model"


def print_summary(console: Console, summaries: Iterable[ChannelSummary]) -> None:
    """Print one line per channel: the mean rating over the repeats with its range.

    Parameters
    ----------
    console
        Where to.
    summaries
        Channels in the order to print them.
    """
    table = Table(box=None, padding=(0, 2, 0, 0))
    for heading in ("release", "load case", "channel"):
        table.add_column(heading)
    for heading in ("corridor", "phase", "magnitude", "slope", "overall", "range", "repeats"):
        table.add_column(heading, justify="right")
    table.add_column("grade")
    for item in summaries:
        scores = (item.corridor, item.phase, item.magnitude, item.slope)
        table.add_row(
            item.release,
            item.load_case,
            item.channel,
            *(f"{value:.3f}" for value in scores),
            Text(f"{item.overall:.3f}", style="bold"),
            f"{item.lowest:.3f}–{item.highest:.3f}",
            str(item.repeats),
            item.grade,
        )
    console.print(table)
    console.print("Each repeat is rated; the mean is shown with its range.", style="dim")
    console.print(CAUTION, style="dim")


def _inputs(score: PairScore) -> Table:
    table = Table(box=None, show_header=False, padding=(0, 2, 0, 0))
    table.add_column()
    table.add_column(overflow="fold")
    table.add_column(overflow="fold")
    for word, signal in (("test", score.reference), ("model", score.candidate)):
        table.add_row(word, signal.channel, signal.source.file)
    time = score.rating.pair.time
    table.add_row(
        "interval",
        f"{time[0] * 1e3:g} to {time[-1] * 1e3:g} ms",
        f"{score.rating.samples} samples, step {score.recipe.step_s * 1e3:g} ms, {_filter_words(score)}",
    )
    return table


def _filter_words(score: PairScore) -> str:
    return "no filter" if score.recipe.cfc is None else f"CFC {score.recipe.cfc}"


def _tick(low: float, high: float) -> str:
    """Label a tick with as many decimals as tell it apart from the next."""
    decimals = max(0, 1 - math.floor(math.log10(high - low))) if high > low else 3
    return f"{low:.{decimals}f}"
