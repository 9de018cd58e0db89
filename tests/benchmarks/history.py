"""The measured rows of every version, in one table a version, and the page that compares them.

``docs/benchmarks/VERSION.csv`` holds the rows. A row that is measured again on the same kind of machine
replaces the earlier one; rows of other machines stay. ``python -m tests.benchmarks.history`` writes the page.
"""

from __future__ import annotations

import csv
import io
from dataclasses import asdict, dataclass, fields
from pathlib import Path
from typing import TYPE_CHECKING, Final

from packaging.version import Version

from correlate.files import write_text

if TYPE_CHECKING:
    from collections.abc import Iterable

FOLDER: Final = Path(__file__).parents[2] / "docs" / "benchmarks"
PAGE: Final = FOLDER / "index.md"

INTRODUCTION: Final = """# Benchmarks by version

<!-- Written by `python -m tests.benchmarks.history` from the tables in this folder. -->

`python -m tests.benchmarks --save` saves its results in the table of the version (`VERSION.csv` in
this folder), with date, cores, memory and processor. It refuses a busy machine: more than 0.3 processes for
each core during the last minute, or a loop of fixed work that gets less than 95 % of a core or takes up to
1.15 times its shortest time. With `--busy` it measures anyway, and its rows are marked.

A ratio is the median of the time of the peer divided by ours, with the range; above 1 means that we are
faster. An exponent describes the growth of time over the four largest sizes: the mean slope of all rounds on
logarithmic scales, with the 95 % interval of Student's t. In simulations of 4,000 measurements of seven
rounds with skewed noise of 5 %, the interval contained the true exponent in 95.8 % of cases, and in 98.1 %
if in addition one time in twenty was 50 % longer (`tests/benchmarks/test_growth.py` repeats both simulations
with fewer measurements). The interval covers noise, but not deviations of the growth from a power law.
"""


@dataclass(frozen=True, slots=True)
class Record:
    """One measured row.

    Attributes
    ----------
    group, name
        What was measured.
    quantity
        ``ratio`` or ``exponent``.
    value, lowest, highest
        The number, and its range or interval.
    goal
        Least value aimed at; empty where nobody set one.
    ours_ms, peer_ms
        Times, where there are two.
    adds_mb
        Memory that ours adds, where it was measured.
    date
        ISO 8601.
    cores, memory_gb, processor
        The machine; empty where it was not recorded.
    busy
        ``yes`` where something else ran.
    """

    group: str
    name: str
    quantity: str
    value: str
    lowest: str
    highest: str
    goal: str
    ours_ms: str
    peer_ms: str
    adds_mb: str
    date: str
    cores: str
    memory_gb: str
    processor: str
    busy: str

    @property
    def place(self) -> tuple[str, ...]:
        """What a later row must share to replace this one."""
        return self.group, self.name, self.quantity, self.cores, self.memory_gb, self.processor


COLUMNS: Final = tuple(field.name for field in fields(Record))


def read(path: Path) -> list[Record]:
    """Return the rows of a table; none where there is no file."""
    if not path.exists():
        return []
    with path.open(encoding="utf-8", newline="") as file:
        return [Record(**row) for row in csv.DictReader(file)]


def save(path: Path, found: Iterable[Record]) -> None:
    """Put measured rows into a table: each replaces its earlier one, or is appended."""
    rows = {row.place: row for row in read(path)}
    rows |= {row.place: row for row in found}
    text = io.StringIO()
    writer = csv.DictWriter(text, COLUMNS, lineterminator="\n")
    writer.writeheader()
    writer.writerows(asdict(row) for row in rows.values())
    write_text(path, text.getvalue())


def page(tables: dict[str, list[Record]]) -> str:
    """Return the page that compares versions.

    Parameters
    ----------
    tables
        Rows by version.
    """
    versions = sorted(tables, key=Version, reverse=True)
    places = dict.fromkeys(row.place for version in versions for row in tables[version])
    machines = dict.fromkeys(place[3:] for place in places)
    parts = [INTRODUCTION]
    for machine in machines:
        parts += [f"## {_named(machine)}\n", f"| group | what | | goal | {' | '.join(versions)} |"]
        parts.append("| --- | --- | --- | ---: |" + " ---: |" * len(versions))
        for place in places:
            if place[3:] == machine:
                parts.append(_line(place, [_of(tables[version], place) for version in versions]))
        parts.append("")
    return "\n".join(parts)


def _named(machine: tuple[str, ...]) -> str:
    cores, memory, processor = machine
    if not processor:
        return f"{cores} cores, processor not recorded"
    return f"{cores} cores, {memory} GB, {processor}"


def _of(rows: list[Record], place: tuple[str, ...]) -> Record | None:
    return next((row for row in rows if row.place == place), None)


def _line(place: tuple[str, ...], found: list[Record | None]) -> str:
    goal = next((row.goal for row in found if row is not None and row.goal), "–")
    cells = " | ".join("–" if row is None else _cell(row) for row in found)
    return f"| {place[0]} | {place[1]} | {place[2]} | {goal} | {cells} |"


def _cell(row: Record) -> str:
    missed = row.goal and float(row.value) < float(row.goal)
    words = [word for word, holds in (("goal missed", missed), ("busy", row.busy == "yes")) if holds]
    return f"{row.value} ({row.lowest}–{row.highest}){', ' if words else ''}{', '.join(words)}"


def saved_tables() -> dict[str, list[Record]]:
    """Return the rows of every version in the folder."""
    return {path.stem: read(path) for path in FOLDER.glob("*.csv")}


if __name__ == "__main__":
    write_text(PAGE, page(saved_tables()))
