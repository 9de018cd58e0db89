"""A first look at an unknown text file: its rows, what separates the columns, and which are the times."""

from __future__ import annotations

import itertools
import re
from collections import Counter
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import FormatError, UnitError
from correlate.files import first_bytes, last_bytes
from correlate.formats.columns.layout import LinePattern, number_in
from correlate.formats.text import LOOKED_AT, decoded, looks_like_text, text_lines
from correlate.units import parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

LOOKED_THROUGH: Final = 2**22
"""Bytes at the start of a file that are looked through; of a larger file the last lines are added."""
LEAST_ROWS: Final = 3
"""Fewer rows of numbers are no table."""
MOSTLY: Final = 0.5
"""Share of numbers from which a column counts as numbers with gaps."""

_WAYS: Final = tuple(
    (separator, decimal)
    for separator in ("\t", ";", "|", ",", "")
    for decimal in (".", ",")
    if separator != decimal
)
_NUMBER: Final = re.compile(r"[+-]?(?:\d+\.\d*|\.\d+|\d+)(?:[eEdD][+-]?\d{1,3}|[+-]\d{3})?")
_CELL: Final = re.compile(rf"{_NUMBER.pattern}|\*{{2,}}")
"""A number, or the asterisks that stand for one that is too wide (from memory of the Fortran standard)."""
_BRACKET: Final = re.compile(r"(?P<name>.*?)\s*[\[(<{](?P<unit>[^\])>}]*)[\])>}]\s*$")
_COMMENT_MARKS: Final = "#!$%*;/"
_TIME_NAMES: Final = re.compile(r"(time|zeit|temps|tempo|t)\b", re.IGNORECASE)
_SAME_EXTENT: Final = 0.9
_LINES_ABOVE: Final = 6
"""Lines above the rows of a block among which its time is looked for."""
_EVEN: Final = 1e-3
_LINES_TRIED: Final = 2000
"""Lines at the top that settle how all of a file is taken apart, unless they are no rows."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SeenColumn:
    """One column of an unknown file.

    Attributes
    ----------
    name, unit
        From the header; the name counts the columns and the unit is empty where there is none.
    characters
        First and last character, counted from 1; None where a separator tells columns apart.
    values
        Numbers of the rows that were looked through; NaN for a cell that is none. Shape ``(rows,)``.
    other
        Cells that are no numbers, the most frequent first.
    """

    name: str
    unit: str
    characters: tuple[int, int] | None
    values: NDArray[np.float64]
    other: tuple[str, ...]

    @property
    def is_text(self) -> bool:
        """Whether most of its cells are no numbers."""
        return bool(np.isfinite(self.values).mean() < MOSTLY)

    @property
    def is_called_time(self) -> bool:
        """Whether its name says that it holds the times."""
        return _TIME_NAMES.match(self.name) is not None

    @property
    def increases(self) -> bool:
        """Whether every number is above the one before."""
        return bool(np.isfinite(self.values).all() and (np.diff(self.values) > 0).all())


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class SeenBlock:
    """Rows that an unknown file repeats for every output time.

    Attributes
    ----------
    start
        Pattern of the line that holds the time.
    skip_lines
        Lines between it and the rows.
    key
        Name of the column that tells rows apart; empty where a block has one row.
    end
        Pattern of the line behind the rows; None where the next block follows at once.
    times
        Of the blocks, shape ``(blocks,)``.
    """

    start: str
    skip_lines: int
    key: str
    end: str | None
    times: NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Look:
    """What an unknown text file looks like.

    Attributes
    ----------
    path
        The file.
    titles
        Lines above the header, without blank ones.
    header
        Lines that name the columns and their units.
    separator, decimal
        Between columns, empty for blanks or counted characters; and the decimal mark.
    skip_lines
        Lines above the first row.
    comment
        What all other lines between rows begin with; empty when there is no such mark.
    skip_like
        Patterns of the other lines between and behind the rows.
    last_lines
        Text behind the last row, where a mark of a normal end might stand.
    columns
        In the order of the file.
    first_rows
        As they are written.
    block
        How the rows are repeated for every output time; None where each row has its time.
    """

    path: Path
    titles: tuple[str, ...]
    header: tuple[str, ...]
    separator: str
    decimal: str
    skip_lines: int
    comment: str
    skip_like: tuple[str, ...]
    last_lines: tuple[str, ...]
    columns: tuple[SeenColumn, ...]
    first_rows: tuple[str, ...]
    block: SeenBlock | None = None

    @property
    def times(self) -> tuple[SeenColumn, ...]:
        """Columns that may be the times, the likeliest first: so called, of an even step, in front."""
        rising = [column for column in self.columns if column.increases]
        return tuple(sorted(rising, key=lambda one: (not one.is_called_time, not _is_even(one.values))))

    @property
    def missing(self) -> tuple[str, ...]:
        """Cells without a number in columns of numbers."""
        marks = (mark for column in self.columns if not column.is_text for mark in column.other)
        return tuple(dict.fromkeys(marks))

    @property
    def sentinels(self) -> tuple[str, ...]:
        """Numbers of nines, far above all others of their column, that may stand for no value."""
        return tuple(dict.fromkeys(mark for column in self.columns for mark in _sentinels(column.values)))


def look_at(path: Path) -> Look:
    """Look through an unknown text file.

    Parameters
    ----------
    path
        The file.

    Returns
    -------
    Look

    Raises
    ------
    FormatError
        It cannot be opened, is no text, or has no rows of numbers below each other.
    """
    lines = _lines(path)
    tried = [_split(lines[:_LINES_TRIED], *way) for way in _WAYS]
    if any(one.score for one in tried):
        likeliest = max(tried, key=lambda one: one.score)
        split = _split(lines, likeliest.separator, likeliest.decimal)
    else:
        split = max((_split(lines, *way) for way in _WAYS), key=lambda one: one.score)
    if not split.separator or not split.score:
        counted = _counted_characters(lines)
        split = counted if len(counted.rows) > len(split.rows) else split
    if len(split.rows) < LEAST_ROWS:
        raise FormatError(
            f"there are no {LEAST_ROWS} consecutive rows of numbers",
            where=str(path),
            remedy="write the layout by hand, see 'Text in columns' in docs/formats.md",
        )
    return _look(path, lines, _without_lone_rows(lines, split))


def _without_lone_rows(lines: Sequence[str], split: _Split) -> _Split:
    """Leave out rows above the table, such as a line that counts the columns."""
    rows = dict(split.rows)
    for index in sorted(split.rows):
        behind = next((at for at in range(index + 1, len(lines)) if lines[at].strip()), None)
        if behind in rows or len(rows) <= LEAST_ROWS:
            break
        del rows[index]
    return replace(split, rows=rows)


def _lines(path: Path) -> list[str]:
    start = first_bytes(path, LOOKED_THROUGH)
    if not looks_like_text(start):
        raise FormatError("the file is empty or not text", where=str(path), remedy="name a text file")
    if len(start) < LOOKED_THROUGH:
        return text_lines(decoded(start))
    whole = text_lines(decoded(start[: start.rfind(b"\n") + 1]))
    return whole + text_lines(decoded(last_bytes(path, LOOKED_AT)))[1:]


@dataclass(frozen=True, slots=True)
class _Split:
    """Lines taken apart in one way."""

    separator: str
    decimal: str
    rows: dict[int, list[str]]
    spans: tuple[tuple[int, int], ...] = ()
    score: float = 0.0


def _split(lines: Sequence[str], separator: str, decimal: str) -> _Split:
    """Take lines apart at a separator; the rows are those with the usual number of cells, mostly numbers."""
    cells: dict[int, list[str]] = {}
    numbers: dict[int, int] = {}
    for index, line in enumerate(lines):
        parts = [part.strip() for part in line.split(separator or None)]
        count = sum(number_in(part, decimal) is not None for part in parts)
        if len(parts) > 1 and count and count >= MOSTLY * len([part for part in parts if part]):
            cells[index], numbers[index] = parts, count
    if not cells:
        return _Split(separator, decimal, {})
    usual = Counter(len(parts) for parts in cells.values()).most_common(1)[0][0]
    rows = {index: parts for index, parts in cells.items() if len(parts) == usual}
    kept = sum(numbers[index] for index in rows)
    # A way in which many lines do not fit, or cells are no numbers, is hardly the way to take the file apart.
    fitting = len(rows) / len(cells)
    pure = kept / sum(len(parts) for parts in rows.values())
    return _Split(separator, decimal, rows, score=kept * fitting * pure if fitting >= _SAME_EXTENT else 0.0)


def _counted_characters(lines: Sequence[str]) -> _Split:
    """Take lines apart by characters: where numbers touch, each ends at one place in all rows."""
    candidates = {
        index: [match.end() for match in _CELL.finditer(line)]
        for index, line in enumerate(lines)
        if line.strip() and not _CELL.sub("", line).strip()
    }
    if not candidates:
        return _Split("", ".", {})
    ends = Counter(tuple(found) for found in candidates.values()).most_common(1)[0][0]
    begins = (0, *ends[:-1])
    spans = tuple((begin + 1, end) for begin, end in zip(begins, ends, strict=True))
    rows = {
        index: [lines[index][begin - 1 : end].strip() for begin, end in spans]
        for index in candidates
        if "\t" not in lines[index] and len(lines[index].rstrip()) <= ends[-1]
    }
    whole = {index: row for index, row in rows.items() if any(row)}
    score = sum(number_in(cell) is not None for row in whole.values() for cell in row)
    return _Split("", ".", whole, spans, float(score) if len(ends) > 1 else 0.0)


def _look(path: Path, lines: Sequence[str], split: _Split) -> Look:
    first, last = min(split.rows), max(split.rows)
    names, units, header_at = _header(lines, split, first)
    others = [
        lines[index].strip()
        for index in range(first, len(lines))
        if index not in split.rows and lines[index].strip()
    ]
    comment = _comment(others)
    patterns = [] if comment else _patterns(others)
    columns = [
        _column(index, name, unit, split) for index, (name, unit) in enumerate(zip(names, units, strict=True))
    ]
    header_from = min(header_at, default=first)
    block = None if any(column.increases for column in columns) else _block(lines, split, columns)
    if block is not None:
        # Between blocks stands whatever a solver likes to say.
        first, comment, patterns = 0, "", []
    return Look(
        path=path,
        titles=tuple(line.strip() for line in lines[:header_from] if line.strip()),
        header=tuple(lines[index].strip() for index in sorted(header_at)),
        separator=split.separator,
        decimal=split.decimal,
        skip_lines=first,
        comment=comment,
        skip_like=tuple(patterns),
        last_lines=tuple(line.strip() for line in lines[last + 1 :] if line.strip()),
        columns=tuple(columns),
        first_rows=tuple(lines[index] for index in sorted(split.rows)[:5]),
        block=block,
    )


# Blocks -------------------------------------------------------------------------------------------------


def _block(lines: Sequence[str], split: _Split, columns: Sequence[SeenColumn]) -> SeenBlock | None:
    """Return how rows are repeated in blocks of one size below a line with the time; None if they are not."""
    groups = _groups(sorted(split.rows))
    size = len(groups[0])
    if len(groups) < LEAST_ROWS or {len(group) for group in groups[:-1]} != {size}:
        return None
    whole = [group for group in groups if len(group) == size]
    key = _key(columns, len(whole), size)
    if size > 1 and not key:
        return None
    for above in range(1, _LINES_ABOVE + 1):
        found = _times([lines[group[0] - above] if group[0] >= above else "" for group in whole])
        if found is not None:
            start, times = found
            end = _end(lines, whole, start)
            return SeenBlock(start=start, skip_lines=above - 1, key=key, end=end, times=times)
    return None


def _groups(rows: Sequence[int]) -> list[list[int]]:
    """Return the rows in groups of lines that follow each other."""
    groups: list[list[int]] = []
    for row in rows:
        if groups and row == groups[-1][-1] + 1:
            groups[-1].append(row)
        else:
            groups.append([row])
    return groups


def _key(columns: Sequence[SeenColumn], blocks: int, size: int) -> str:
    """Return the first column of whole numbers that are the same in every block and differ within it."""
    for column in columns if size > 1 else ():
        values = column.values[: blocks * size].reshape(blocks, size)
        is_same = bool((values == values[0]).all())
        if is_same and np.unique(values[0]).size == size and (values[0] == np.round(values[0])).all():
            return column.name
    return ""


def _times(heads: Sequence[str]) -> tuple[str, NDArray[np.float64]] | None:
    """Return the pattern of lines and the times in them, where one number of each rises from line to line.

    A number that counts blocks or cycles rises too; one with decimals is preferred to it.
    """
    numbers = [list(_NUMBER.finditer(line)) for line in heads]
    count = len(numbers[0])
    if not re.search(r"[^\W\d_]{2}", heads[0]) or {len(found) for found in numbers} != {count}:
        return None
    rising = []
    for place in range(count):
        times = np.array([number_in(found[place][0]) for found in numbers], dtype=np.float64)
        if (np.diff(times) > 0).all():
            rising.append((bool((times == np.round(times)).all()), place, times))
    if not rising:
        return None
    _, place, times = min(rising, key=lambda one: one[:2])
    return _start_pattern(heads[0], numbers[0], place), times


def _start_pattern(line: str, numbers: Sequence[re.Match[str]], place: int) -> str:
    text, at = "", 0
    for index, match in enumerate(numbers):
        text += line[at : match.start()] + ("{time}" if index == place else "*")
        at = match.end()
    return (text + line[at:]).strip()


def _end(lines: Sequence[str], groups: Sequence[Sequence[int]], start: str) -> str | None:
    behind = {lines[group[-1] + 1].strip() for group in groups[:-1]}
    if behind == {""}:
        return ""
    pattern = LinePattern(start)
    return None if all(pattern.fits(line) for line in behind) else next(_patterns(behind), None)


def _column(index: int, name: str, unit: str, split: _Split) -> SeenColumn:
    cells = [row[index] for _, row in sorted(split.rows.items())]
    numbers = [number_in(cell, split.decimal) for cell in cells]
    other = Counter(cell for cell, number in zip(cells, numbers, strict=True) if number is None)
    return SeenColumn(
        name=name,
        unit=unit,
        characters=split.spans[index] if split.spans else None,
        values=np.array([np.nan if number is None else number for number in numbers]),
        other=tuple(cell for cell, _ in other.most_common(4)),
    )


# The header ---------------------------------------------------------------------------------------------


def _header(lines: Sequence[str], split: _Split, first: int) -> tuple[list[str], list[str], list[int]]:
    """Return names and units of the columns, and the lines they stand on."""
    count = len(split.rows[first])
    above = [index for index in range(first - 1, max(-1, first - 6), -1) if lines[index].strip()]
    units: list[str] = [""] * count
    used: list[int] = []
    for index in above:
        parts = _parts(lines[index], split, lines[first], count)
        if parts is None:
            if set(lines[index].strip()) <= set("-=_+| \t"):
                continue  # a line drawn between header and rows
            break
        if not used and sum(_is_unit(part) for part in parts) > count / 2:
            units = [_unit(part) for part in parts]
            used.append(index)
            continue
        found = [_name_and_unit(part) for part in parts]
        names = [name or f"column {number}" for number, (name, _) in enumerate(found, start=1)]
        units = [own or unit for (_, own), unit in zip(found, units, strict=True)]
        return _distinct(names), units, [*used, index]
    return [f"column {number}" for number in range(1, count + 1)], units, used


def _parts(line: str, split: _Split, row: str, count: int) -> list[str] | None:
    """Cut a line above the rows into as many parts as there are columns, or return None."""
    text = line.strip().lstrip(_COMMENT_MARKS)
    if split.separator:
        found = [part.strip().strip("\"'") for part in text.split(split.separator)]
        return found if len(found) == count else None
    for words in (text.split(), re.split(r"\s{2,}", text.strip())):
        if len(words) == count:
            return words
    return _by_place(line, split.spans or _spans_of(row), count)


def _spans_of(row: str) -> tuple[tuple[int, int], ...]:
    """Return the characters that each word of a row and the blanks before it take, counted from 1."""
    ends = [match.end() for match in re.finditer(r"\S+", row)]
    return tuple((begin + 1, end) for begin, end in zip([0, *ends[:-1]], ends, strict=True))


def _by_place(line: str, spans: Sequence[tuple[int, int]], count: int) -> list[str] | None:
    """Cut a line at the columns of the rows, unless that cuts a word or leaves most columns empty."""
    if len(spans) != count or len(line.rstrip()) > spans[-1][1] + 2:
        return None
    for _, end in spans[:-1]:
        is_cut = line[end - 1 : end].strip() and line[end : end + 1].strip()
        if is_cut and not any(_fills(line, span) for span in spans if end in {span[0] - 1, span[1]}):
            return None
    found = [line[begin - 1 : end].strip() for begin, end in spans]
    return found if sum(map(bool, found)) > count / 2 else None


def _fills(line: str, span: tuple[int, int]) -> bool:
    """Say whether one word takes the whole width of a column, so that it touches the names beside it."""
    cell = line[span[0] - 1 : span[1]]
    return len(cell) == span[1] - span[0] + 1 and not re.search(r"\s", cell)


def _name_and_unit(text: str) -> tuple[str, str]:
    match = _BRACKET.match(text.strip())
    if match and match["name"]:
        return match["name"].strip(), _unit(match["unit"])
    return text.strip(), ""


def _unit(text: str) -> str:
    """Return the unit a cell spells; empty where it spells none."""
    plain = text.strip().strip("[](){}<>").strip()
    try:
        parse_unit(plain)
    except UnitError:
        return ""
    return plain


def _is_unit(text: str) -> bool:
    return bool(_unit(text)) or text.strip() in {"", "[]", "()"}


def _distinct(names: Sequence[str]) -> list[str]:
    """Add a number to names that stand twice."""
    counts = Counter(names)
    seen: Counter[str] = Counter()
    found = []
    for name in names:
        seen[name] += 1
        found.append(name if counts[name] == 1 else f"{name} {seen[name]}")
    return found


# Other lines ---------------------------------------------------------------------------------------------


def _comment(others: Sequence[str]) -> str:
    """Return the mark that all other lines begin with; empty when there is none."""
    marks = {line[0] for line in others}
    return marks.pop() if len(marks) == 1 and marks <= set(_COMMENT_MARKS) else ""


def _patterns(others: Iterable[str]) -> Iterator[str]:
    """Return what lines look like, with ``*`` for every number in them, each pattern once."""
    for pattern in dict.fromkeys(map(pattern_of, others)):
        if re.search(r"[^\W\d]|[-=]{3}", pattern):
            yield pattern


def pattern_of(line: str) -> str:
    """Return what a line looks like, with one ``*`` for words with numbers in them that follow each other."""
    # Word by word: an expression for all of them at once takes forever on one very long word.
    starred = re.sub(r"\S+", lambda word: "*" if re.search(r"\d", word[0]) else word[0], line.strip())
    return re.sub(r"(?<!\S)\*(?:\s+\*(?!\S))+", "*", starred)


def _is_even(values: NDArray[np.float64]) -> bool:
    steps = np.diff(values)
    return bool(np.ptp(steps) <= _EVEN * np.median(steps)) if steps.size else False


def _sentinels(values: NDArray[np.float64]) -> Iterator[str]:
    """Yield numbers such as -9999 that stand far above all others of a column."""
    present = values[np.isfinite(values)]
    for value, others in itertools.chain(
        ((present.min(), present[present > present.min()]), (present.max(), present[present < present.max()]))
        if present.size
        else ()
    ):
        text = f"{value:.6g}"
        nines = re.fullmatch(r"[+-]?9{3,}(?:\.9*|\.0*)?|[+-]?9(?:\.9+)?e\+\d+|[+-]?1e\+(?:[23]\d|1\d)", text)
        if nines and others.size and np.abs(others).max() < abs(value) / 10:
            yield text
