"""Run the comparisons, all or some: ``python -m tests.benchmarks [--save] [GROUP …]``.

With ``--save`` what is printed is also written to ``docs/benchmarks/VERSION.md``, one file a version.
"""

from __future__ import annotations

import io
import os
import sys
from contextlib import ExitStack, redirect_stdout
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final, TextIO

# One core each, so that ratios compare algorithms.
os.environ.setdefault("OMP_NUM_THREADS", "1")

from correlate.version import VERSION
from tests.benchmarks import (
    busy,
    campaign,
    command_line,
    corridors,
    criteria,
    dashboard,
    dashboard_pair,
    decisions,
    filtering,
    first_view,
    flags,
    growth,
    hardware_scatter,
    many_pairs,
    matrix,
    million,
    qualification_history,
    rating,
    reading,
    workers,
)
from tests.benchmarks.table import HEADING
from tests.benchmarks.tuning import study

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

SAVED: Final = Path(__file__).parents[2] / "docs" / "benchmarks" / f"{VERSION}.md"

ROWS: dict[str, Callable[[], Iterable[object]]] = {
    "rating": rating.rows,
    "many": rating.rows_of_many,
    "filter": filtering.rows,
    "reading": reading.rows,
    "criteria": criteria.rows,
    "command": command_line.rows,
    "campaign": campaign.rows,
    "workers": workers.rows,
}
"""Groups of rows of the one table."""

TEXTS: dict[str, Callable[[], Iterable[object]]] = {
    "growth": lambda: [growth.report()],
    "memory": rating.rows_of_memory,
    "dashboard": lambda: [
        dashboard.report(dashboard.measure()),
        dashboard_pair.report(dashboard_pair.measure()),
        first_view.report(first_view.measure()),
        matrix.report(matrix.measure()),
    ],
    "busy": lambda: [busy.report()],
    "million": million.report,
    "many-pairs": lambda: [many_pairs.report(many_pairs.measure())],
}
"""Groups with a form of their own, printed behind the table."""

STUDIES: dict[str, Callable[[], Iterable[object]]] = {
    "corridors": corridors.report,
    "decisions": decisions.report,
    "flags": flags.report,
    "hardware-scatter": hardware_scatter.report,
    "qualification-history": qualification_history.report,
    "tuning": study.report_of_few,
}
"""Simulations behind figures in the documentation; they measure no time and run only when they are named."""


def main() -> None:
    """Print each row as soon as it is measured."""
    words = sys.argv[1:]
    with ExitStack() as opened:
        if "--save" in words:
            words.remove("--save")
            SAVED.parent.mkdir(exist_ok=True)
            file = opened.enter_context(SAVED.open("w", encoding="utf-8"))
            opened.enter_context(redirect_stdout(_Both(sys.stdout, file)))
            print(f"# Version {VERSION}\n\n{datetime.now(UTC):%Y-%m-%d}\n")
        _run(words or [*ROWS, *TEXTS])


class _Both(io.TextIOBase):
    """Writes to two files at once."""

    def __init__(self, *files: TextIO) -> None:
        self._files = files

    def write(self, text: str) -> int:
        for file in self._files:
            file.write(text)
            file.flush()
        return len(text)


def _run(chosen: list[str]) -> None:
    """Measure the chosen groups."""
    unknown = [name for name in chosen if name not in ROWS | TEXTS | STUDIES]
    if unknown:
        sys.exit(f"no group is called {', '.join(unknown)}: choose among {', '.join(ROWS | TEXTS | STUDIES)}")
    load = os.getloadavg()[0]
    print(f"Measured on {os.cpu_count()} cores; {load:.1f} processes wanted them when it began.\n")
    if any(name in ROWS for name in chosen):
        print(HEADING)
    for name in chosen:
        if name in ROWS:
            _print_each(ROWS[name]())
    for name in chosen:
        if name in TEXTS | STUDIES:
            print()
            _print_each((TEXTS | STUDIES)[name]())


def _print_each(lines: Iterable[object]) -> None:
    for line in lines:
        print(line, flush=True)


if __name__ == "__main__":
    main()
