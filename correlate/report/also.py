"""Further measures beside a rating, in the terminal and as plain values."""

from __future__ import annotations

import json
import math
from typing import TYPE_CHECKING, Any

from rich.table import Table

from correlate.evaluation.record import plain
from correlate.metrics import METRICS
from correlate.report.as_json import pair_object

if TYPE_CHECKING:
    from collections.abc import Sequence

    from rich.console import Console

    from correlate.campaign import PairScore
    from correlate.metrics import Evaluation, Measure


def also_object(evaluations: Sequence[Evaluation]) -> dict[str, Any]:
    """Return what measures say as plain values for JSON.

    Parameters
    ----------
    evaluations
        One a measure.

    Returns
    -------
    dict
        By name of the measure: ``value``, its ``parts`` and, where it refuses, ``reason``.
    """
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
    """Return a rating as JSON text, further measures under the key ``also``.

    Parameters
    ----------
    score
        A rated pair.
    evaluations
        One a measure; the key is there even when there are none.

    Returns
    -------
    str
    """
    content = {**pair_object(score), "also": plain(also_object(evaluations))}
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)


def print_also(console: Console, evaluations: Sequence[Evaluation]) -> None:
    """Print one line per measure: its number, which number is best, its parts.

    Parameters
    ----------
    console
        Where to.
    evaluations
        One a measure.
    """
    table = Table(box=None, padding=(0, 2, 0, 0))
    table.add_column("measure")
    table.add_column("value", justify="right")
    table.add_column("best", justify="right")
    table.add_column("parts", overflow="fold")
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
