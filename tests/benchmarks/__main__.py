"""Run the comparisons, all or some: ``python -m tests.benchmarks [--save] [--busy] [GROUP …]``.

With ``--save`` the rows go to ``docs/benchmarks/VERSION.csv``, and the page that compares versions is written
anew; without groups, these are all that such a table keeps. A busy machine is refused, or with ``--busy`` its
rows are marked.
"""

from __future__ import annotations

import os
import sys
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Final

# One core each, so that ratios compare algorithms.
os.environ.setdefault("OMP_NUM_THREADS", "1")

from correlate.files import write_text
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
    history,
    known,
    many_pairs,
    matrix,
    million,
    new_release,
    qualification_history,
    rating,
    reading,
    scale,
    workers,
)
from tests.benchmarks.machine import calibrate, this_machine, why_busy
from tests.benchmarks.table import HEADING, Row
from tests.benchmarks.tuning import study

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable

SAVED: Final = Path(__file__).parents[2] / "docs" / "benchmarks" / f"{VERSION}.csv"

ROWS: dict[str, Callable[[], Iterable[Row]]] = {
    "rating": rating.rows,
    "many": rating.rows_of_many,
    "filter": filtering.rows,
    "reading": reading.rows,
    "criteria": criteria.rows,
    "command": command_line.rows,
    "campaign": campaign.rows,
    "workers": workers.rows,
    "new-release": new_release.rows,
    "known": known.rows,
}
"""Groups of rows of the one table."""

GROWTHS: dict[str, Callable[[], Iterable[growth.Growth]]] = {"growth": growth.growths}
"""Groups of rows of the table of cost models."""

TEXTS: dict[str, Callable[[], Iterable[object]]] = {
    "memory": rating.rows_of_memory,
    "dashboard": lambda: [
        dashboard.report(dashboard.measure()),
        dashboard_pair.report(dashboard_pair.measure()),
        first_view.report(first_view.measure()),
        matrix.report(matrix.measure()),
    ],
    "busy": lambda: [busy.report()],
    "million": million.report,
    "known-growth": known.growth_report,
    "many-pairs": lambda: [many_pairs.report(many_pairs.measure())],
}
"""Groups with a form of their own, printed behind the table."""

STUDIES: dict[str, Callable[[], Iterable[object]]] = {
    "corridors": corridors.report,
    "decisions": decisions.report,
    "flags": flags.report,
    "hardware-scatter": hardware_scatter.report,
    "qualification-history": qualification_history.report,
    "scale": scale.report,
    "tuning": study.report_of_few,
}
"""Simulations behind figures in the documentation; they run only when they are named."""


def main() -> None:
    """Print each row as soon as it is measured."""
    words = sys.argv[1:]
    options = {word for word in words if word in {"--save", "--busy"}}
    chosen = [word for word in words if word not in options]
    _refuse_unknown(chosen)
    measured = [name for name in chosen if name not in STUDIES] or not chosen
    reason = why_busy(os.getloadavg()[0], os.cpu_count() or 1, calibrate()) if measured else None
    if reason and "--busy" not in options:
        sys.exit(
            f"The machine is busy: {reason}. Wait until nothing else runs, or give --busy, "
            "which marks the rows."
        )
    found = _run(chosen or [*ROWS, *GROWTHS, *([] if "--save" in options else TEXTS)])
    if "--save" in options:
        today, busy = f"{datetime.now(UTC):%Y-%m-%d}", "yes" if reason else "no"
        history.save(SAVED, [_record(group, row, today, busy) for group, row in found])
        write_text(history.PAGE, history.page(history.saved_tables()))


def _refuse_unknown(chosen: list[str]) -> None:
    groups = ROWS | GROWTHS | TEXTS | STUDIES
    unknown = [name for name in chosen if name not in groups]
    if unknown:
        sys.exit(f"no group is called {', '.join(unknown)}: choose among {', '.join(groups)}")


def _run(chosen: list[str]) -> list[tuple[str, Row | growth.Growth]]:
    """Measure the chosen groups and return the rows that a table of the version can keep."""
    load = os.getloadavg()[0]
    print(f"Measured on {os.cpu_count()} cores; {load:.1f} processes wanted them when it began.\n")
    found: list[tuple[str, Row | growth.Growth]] = []
    for heading, groups in ((HEADING, ROWS), (growth.HEADING, GROWTHS)):
        if any(name in groups for name in chosen):
            print(heading)
        for name in chosen:
            for row in groups[name]() if name in groups else ():
                print(row, flush=True)
                found.append((name, row))
    for name in chosen:
        if name in TEXTS | STUDIES:
            print()
            _print_each((TEXTS | STUDIES)[name]())
    return found


def _record(group: str, row: Row | growth.Growth, today: str, busy: str) -> history.Record:
    """Return a measured row with its machine."""
    machine = this_machine()
    goal = times = None
    if isinstance(row, Row):
        numbers, quantity, goal = (row.ratio, row.lowest, row.highest), "ratio", row.goal
        times = (row.ours_s * 1e3, row.peer_s * 1e3, row.peak_mb)
    else:
        numbers, quantity = row.exponent(), "exponent"
    ours, peer, adds = ("" if number is None else f"{number:.3g}" for number in times or [None] * 3)
    value, lowest, highest = (f"{number:.2f}" for number in numbers)
    return history.Record(
        group=group,
        name=row.name,
        quantity=quantity,
        value=value,
        lowest=lowest,
        highest=highest,
        goal="" if goal is None else f"{goal:g}",
        ours_ms=ours,
        peer_ms=peer,
        adds_mb=adds,
        date=today,
        cores=str(machine.cores),
        memory_gb=str(machine.memory_gb),
        processor=machine.processor,
        busy=busy,
    )


def _print_each(lines: Iterable[object]) -> None:
    for line in lines:
        print(line, flush=True)


if __name__ == "__main__":
    main()
