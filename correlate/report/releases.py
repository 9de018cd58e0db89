"""Several releases side by side, in the terminal and as JSON."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Final

from rich.table import Table
from rich.text import Text

from correlate.plots.scoreboard_words import signed
from correlate.plots.wording import CAUTION
from correlate.reference.finding import counted
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from rich.console import Console

    from correlate.campaign import Change, ReleaseLine, ReleaseTable
    from correlate.campaign.release_evidence import ReleaseEvidence

_PLACE: Final = 30
"""Characters for what a number is of."""
_BESIDE: Final = 23
"""Characters for the best release and the last change, beside the longest name."""
_NARROWEST: Final = 6
"""Characters of a rating with its mark."""
_LONGEST_NAME: Final = 12
"""Characters of the name of a release in one line."""
_NONE: Final = "–"


def releases_json(table: ReleaseTable) -> str:
    """Return the comparison of several releases as JSON text."""
    content = {"releases": table.releases, "version": VERSION, "lines": list(table.rows())}
    return json.dumps(content, indent=2, ensure_ascii=False, allow_nan=False)


def print_releases(
    console: Console, table: ReleaseTable, evidence: Mapping[str, ReleaseEvidence], *, top: int
) -> None:
    """Print one line per number and one column per release, as many side by side as fit."""
    lines, hidden = _shown(table.lines, top)
    for block in _blocks(table.releases, console.width):
        console.print(_block(table, lines, block))
    if hidden:
        console.print(f"{counted(hidden, 'further channel')} not shown; --top shows more.", style="dim")
    for number, name in enumerate(table.releases):
        is_rated = any(line.ratings[number] is not None for line in table.lines)
        marks = evidence[name].marks() if is_rated else ("not rated",)
        if marks:
            console.print(Text(f"* {name}: {', '.join(marks)}."))
    console.print(
        f"Last change: {table.releases[-1]} against {table.releases[-2]}, repeat by repeat. Better and "
        "worse: the 95 % interval excludes 0. In parentheses: not distinguishable; (1): one repeat.",
        style="dim",
    )
    console.print(CAUTION, style="dim")


def _shown(lines: Sequence[ReleaseLine], top: int) -> tuple[list[ReleaseLine], int]:
    """Leave out the channels of each load case that changed least between the last two releases."""
    by_case: dict[tuple[bool, str], list[ReleaseLine]] = {}
    for line in lines:
        if line.kind == "channel":
            by_case.setdefault((line.held_out, line.place[0]), []).append(line)
    kept: set[int] = set()
    for channels in by_case.values():
        ranked = sorted(channels, key=_rank)
        kept |= {id(line) for line in ranked[:top]}
    shown = [line for line in lines if line.kind != "channel" or id(line) in kept]
    return shown, len(lines) - len(shown)


def _rank(line: ReleaseLine) -> tuple[bool, float]:
    """Put what the last two releases do not share before all changes, so that it is not cut off."""
    difference = line.last.difference
    return difference is not None, -abs(difference or 0.0)


def _blocks(releases: Sequence[str], width: int) -> Iterator[range]:
    """Divide the releases into blocks of columns; the last one has room for the best and the last change."""
    names = min(max(map(len, releases)), _LONGEST_NAME)
    column = max(_NARROWEST, names) + 1
    most = max(1, (width - _PLACE - 1) // column)
    beside = max(1, (width - _PLACE - 1 - _BESIDE - names) // column)
    start, left = 0, len(releases)
    while left > beside:
        size = min(most, left - 1)
        yield range(start, start + size)
        start, left = start + size, left - size
    yield range(start, len(releases))


def _block(table: ReleaseTable, lines: Sequence[ReleaseLine], block: range) -> Table:
    is_last = block.stop == len(table.releases)
    shown = Table(box=None, padding=(0, 1, 0, 0))
    shown.add_column("", overflow="fold", width=_PLACE)
    for number in block:
        name = table.releases[number]
        width = max(_NARROWEST, min(len(name), _LONGEST_NAME))
        shown.add_column(name, justify="right", overflow="fold", width=width)
    if is_last:
        shown.add_column("best", overflow="fold", max_width=_LONGEST_NAME)
        shown.add_column("last change", no_wrap=True)
    for line in lines:
        cells = [_rating(line.ratings[number], line.marks[number]) for number in block]
        beside = [line.best or _NONE, _change(line.last)] if is_last else []
        style = "" if line.kind in {"channel", "region"} else "bold"
        shown.add_row(Text(_place(line)), *map(Text, [*cells, *beside]), style=style)
    return shown


def _place(line: ReleaseLine) -> str:
    if line.kind == "release":
        return "held-out load cases" if line.held_out else "all load cases"
    if line.kind == "region":
        return f"  region {line.words}"
    return f"  {line.words}" if line.kind == "channel" else line.place[0]


def _rating(value: float | None, marks: Sequence[str]) -> str:
    return (_NONE if value is None else f"{value:.3f}") + ("*" if marks else " ")


def _change(change: Change) -> str:
    if change.difference is None:
        return _NONE
    if change.is_distinguishable:
        return f"{signed(change.difference)} {change.verdict}"
    return f"({signed(change.difference)}){' (1)' if change.estimate is None else ''}"
