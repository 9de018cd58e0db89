"""Tables of the terminal: as readable at 80 columns as at 140; no word is cut, whatever the width."""

from __future__ import annotations

import re
import textwrap
from dataclasses import dataclass, field
from itertools import groupby
from typing import TYPE_CHECKING, Final, Literal, NamedTuple

from rich.cells import cell_len
from rich.segment import Segment
from rich.text import Text

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from rich.console import Console, ConsoleOptions

GAP: Final = 2
"""Spaces between two columns."""
READABLE: Final = 36
"""Narrowest column of running text beside others; a narrower one goes under its row. Chosen here."""
INDENT: Final = 4
"""Of text under its row."""

Justify = Literal["left", "right"]


@dataclass(frozen=True, slots=True)
class Column:
    """A column: numbers are to the right, and running text may go under its row where room is short."""

    heading: str
    justify: Justify = "left"
    is_text: bool = False


@dataclass(frozen=True, slots=True)
class _Row:
    cells: tuple[str, ...]
    style: str


class _Line(NamedTuple):
    words: str
    style: str


@dataclass(slots=True)
class TextTable:
    """A table that breaks lines between words only, and never numbers.

    Where the columns have no room beside each other, running text goes under its row; if that is not enough,
    the table is printed in several parts, each with the first columns.

    Attributes
    ----------
    title
        Above it; empty for none.
    keys
        How many of the first columns say what a row is.
    gap
        Spaces between two columns.
    """

    title: str = ""
    keys: int = 1
    gap: int = GAP
    _columns: list[Column] = field(default_factory=list)
    _rows: list[_Row] = field(default_factory=list)
    _sizes: dict[int, tuple[int, int]] = field(default_factory=dict)

    def add_column(self, heading: str = "", *, justify: Justify = "left", is_text: bool = False) -> None:
        """Add a column."""
        self._columns.append(Column(heading, justify, is_text))

    @property
    def row_count(self) -> int:
        """How many rows there are."""
        return len(self._rows)

    def add_row(self, *cells: str | Text, style: str = "") -> None:
        """Add a row; cells that are left out at its end are empty."""
        plain = [cell.plain if isinstance(cell, Text) else cell for cell in cells]
        self._rows.append(_Row((*plain, *[""] * (len(self._columns) - len(plain))), style))

    def __rich_console__(self, console: Console, options: ConsoleOptions) -> Iterator[Text | Segment]:
        """Yield the lines."""
        self._sizes = {
            place: (self._least(place), self._natural(place)) for place in range(len(self._columns))
        }
        all_lines = list(self._all_lines(options))
        is_plain = all(map(_is_plain, set("".join(line.words for line in all_lines))))
        # Lines with enough space need no layout, which is the slowest part for thousands of rows.
        room = options.max_width if is_plain else -1
        for (style, has_room), lines in groupby(all_lines, lambda one: (one.style, len(one.words) <= room)):
            if has_room:
                yield Segment("\n".join(line.words for line in lines), console.get_style(style))
                yield Segment.line()
            else:
                yield from (Text(line.words, style=style) for line in lines)

    def _all_lines(self, options: ConsoleOptions) -> Iterator[_Line]:
        """Yield the lines, which may be longer than there is room."""
        if self.title:
            yield _Line(self.title, "italic")
        beside, below = self._arranged(options.max_width)
        for number, part in enumerate(self._parts(beside, options.max_width)):
            if number:
                yield _Line("", "")
            yield from self._lines(part, [] if number else below, options.max_width)

    def _arranged(self, room: int) -> tuple[list[int], list[int]]:
        """Return the columns that stand beside each other, and those of text that go under their rows."""
        beside = list(range(len(self._columns)))
        below: list[int] = []
        for place in reversed(range(self.keys, len(self._columns))):
            widths = self._widths(beside, room)
            if not self._columns[place].is_text:
                continue
            if widths is None or widths[place] < min(READABLE, self._sizes[place][1]):
                beside.remove(place)
                below.insert(0, place)
        return beside, below

    def _parts(self, columns: list[int], room: int) -> Iterator[list[int]]:
        """Divide columns that have no room beside each other."""
        keys, rest = columns[: self.keys], columns[self.keys :]
        if self._widths(columns, room) is not None or not rest:
            yield columns
            return
        part: list[int] = []
        for place in rest:
            if part and self._widths([*keys, *part, place], room) is None:
                yield [*keys, *part]
                part = []
            part.append(place)
        yield [*keys, *part]

    def _natural(self, place: int) -> int:
        """Return the width at which no cell of a column is wrapped."""
        return max(len(words) for words in (self._columns[place].heading, *self._cells(place)))

    def _least(self, place: int) -> int:
        """Return the width at which no word is cut, and no number is divided."""
        column = self._columns[place]
        cells = self._cells(place)
        numbers = [len(cell) for cell in cells if column.justify == "right" or _NUMBER.match(cell)]
        words = [
            _indent(cell) + max(map(len, cell.split())) for cell in (column.heading, *cells) if cell.strip()
        ]
        return max([*numbers, *words], default=0)

    def _cells(self, place: int) -> set[str]:
        return {row.cells[place] for row in self._rows}

    def _widths(self, columns: Sequence[int], room: int) -> dict[int, int] | None:
        """Return the widths of columns beside each other; None where they have no room."""
        room -= self.gap * (len(columns) - 1)
        widths = {place: self._sizes[place][0] for place in columns}
        left = room - sum(widths.values())
        if left < 0:
            return None
        wishes = {place: self._sizes[place][1] - width for place, width in widths.items()}
        # The small wishes first: what remains goes to the columns of much text.
        for number, place in enumerate(sorted(columns, key=wishes.__getitem__)):
            given = min(wishes[place], left // (len(columns) - number))
            widths[place] += given
            left -= given
        return widths

    def _lines(self, beside: Sequence[int], below: Sequence[int], room: int) -> Iterator[_Line]:
        widths = self._widths(beside, room) or {place: self._sizes[place][0] for place in beside}
        headings = [self._columns[place].heading for place in beside]
        if any(headings):
            yield from self._side_by_side(headings, beside, widths, "bold")
        for place in below:
            if self._columns[place].heading:
                yield _Line(" " * INDENT + self._columns[place].heading, "bold")
        for row in self._rows:
            yield from self._side_by_side([row.cells[place] for place in beside], beside, widths, row.style)
            for place in below:
                heading = self._columns[place].heading
                words = f"{heading}: {row.cells[place]}" if heading and len(below) > 1 else row.cells[place]
                indent = " " * (INDENT + _indent(row.cells[0]))
                for line in _wrapped(indent + words, room) if row.cells[place] else ():
                    yield _Line(line, row.style)

    def _side_by_side(
        self, cells: Sequence[str], columns: Sequence[int], widths: dict[int, int], style: str
    ) -> Iterator[_Line]:
        wrapped = [_wrapped(cell, widths[place]) for cell, place in zip(cells, columns, strict=True)]
        for number in range(max(map(len, wrapped))):
            line = [
                _set(lines[number : number + 1], widths[place], self._columns[place].justify)
                for lines, place in zip(wrapped, columns, strict=True)
            ]
            yield _Line((" " * self.gap).join(line).rstrip(), style)


_NUMBER: Final = re.compile(r"\s*[+−±(-]*\d")
"""How a cell begins that is a number or a range, and is not wrapped."""


def _is_plain(mark: str) -> bool:
    """Tell whether a character takes one column of the terminal."""
    return mark.isprintable() and cell_len(mark) == 1


def _indent(cell: str) -> int:
    return len(cell) - len(cell.lstrip())


def _wrapped(cell: str, width: int) -> list[str]:
    """Wrap a cell between words; what follows is indented as its first line is."""
    if len(cell) <= width and cell.isprintable():
        return [cell.rstrip()]
    indent, words = " " * _indent(cell), cell.strip()
    return textwrap.wrap(
        words,
        max(width, 1),
        initial_indent=indent,
        subsequent_indent=indent,
        break_long_words=False,
        break_on_hyphens=False,
    ) or [""]


def _set(lines: list[str], width: int, justify: Justify) -> str:
    line = "".join(lines)
    return line.rjust(width) if justify == "right" else line.ljust(width)
