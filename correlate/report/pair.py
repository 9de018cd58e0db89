"""A rated pair in the terminal and as JSON."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any, Final

import numpy as np
import plotille
from rich.text import Text

from correlate.evaluation.record import input_words, plain, settings_words
from correlate.metrics import METRICS
from correlate.plots.wording import CAUTION, delay_in_words
from correlate.report.table import TextTable
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from correlate.campaign import PairScore
    from correlate.metrics import Evaluation, Measure


def pair_object(score: PairScore) -> dict[str, Any]:
    """Return the rating with its inputs, settings and version as plain values."""
    rating = score.rating
    return {
        "overall": rating.overall,
        "grade": rating.grade,
        "corridor": rating.corridor,
        "phase": rating.phase,
        "magnitude": rating.magnitude,
        "slope": rating.slope,
        "shift_s": rating.shift_s,
        "samples": rating.samples,
        "settings": settings_words(score.recipe, rating.settings),
        "inputs": {"reference": input_words(score.reference), "candidate": input_words(score.candidate)},
        "flags": [flag.as_plain() for flag in score.flags],
        "ingredients": plain(rating.ingredients.as_dict()),
        "version": VERSION,
    }


def pair_json(score: PairScore) -> str:
    """Return the rating as JSON text."""
    return json.dumps(pair_object(score), indent=2, ensure_ascii=False, allow_nan=False)


def also_object(evaluations: Sequence[Evaluation]) -> dict[str, Any]:
    """Return what measures say as plain values for JSON."""
    return {
        one.measure: {
            "value": one.value,
            "higher_is_better": METRICS[one.measure].higher_is_better,
            "parts": dict(one.parts),
            "reason": one.reason,
        }
        for one in evaluations
    }


def pair_json_with(score: PairScore, evaluations: Sequence[Evaluation]) -> str:
    """Return a rating as JSON text, further measures under the key ``also``."""
    content = {**pair_object(score), "also": plain(also_object(evaluations))}
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)


def print_also(console: Console, evaluations: Sequence[Evaluation]) -> None:
    """Print one line per measure: its number, which number is best, its parts."""
    table = TextTable()
    table.add_column("measure")
    table.add_column("value", justify="right")
    table.add_column("best", justify="right")
    table.add_column("parts", is_text=True)
    for one in evaluations:
        known = METRICS[one.measure]
        value = "–" if one.value is None else f"{one.value:.3f}"
        table.add_row(known.name, value, f"{known.best:g}", one.reason or _parts(known, one))
    console.print(table)


def _parts(known: Measure, one: Evaluation) -> str:
    shown = []
    for name in known.parts:
        value = one.parts[name]
        if isinstance(value, bool):
            shown.append(f"{name} {'yes' if value else 'no'}")
        elif name.endswith("_s"):
            shown.append(f"{_words(name[:-2])} {value * 1e3:.4g} ms")
        else:
            shown.append(f"{_words(name)} {_number(value)}")
    return ", ".join(shown)


def _words(name: str) -> str:
    return name.replace("_", " ")


def _number(value: float) -> str:
    return f"{value:d}" if isinstance(value, int) else f"{value:.3f}" if math.isfinite(value) else "–"


SKETCH_HEIGHT: Final = 14
LABEL_WIDTH: Final = 13
"""Characters that the sketch spends on its upright axis."""
AXIS_END: Final = 8
"""Characters that the sketch spends on the name of its lower axis."""


def print_pair(console: Console, score: PairScore) -> None:
    """Print the rating of one pair: what was compared, the scores, a sketch, a caution."""
    rating = score.rating
    # A path is not broken, however long.
    console.print(_inputs(score), soft_wrap=True)
    table = TextTable()
    table.add_column("component")
    table.add_column("score", justify="right")
    table.add_column("what it compares", is_text=True)
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
    """Draw both curves with characters: the test as a line, the model as crosses."""
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


def _inputs(score: PairScore) -> TextTable:
    table = TextTable()
    table.add_column()
    table.add_column()
    table.add_column(is_text=True)
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
