"""Cells of a table: rows of numbers, and the channels made of them."""

from __future__ import annotations

import math
import sys
from dataclasses import dataclass
from operator import itemgetter
from typing import TYPE_CHECKING, BinaryIO, Final

import numpy as np

from correlate.errors import FormatError, NoNumberError
from correlate.files import FIRST_LOOK
from correlate.formats.columns.layout import number_in
from correlate.formats.number_text import (
    COMPILED_FROM,
    NumberLayout,
    compiled_table,
    stands_for_no_number,
)
from correlate.formats.text import decoded, looks_like_text, shortened, text_lines
from correlate.limits import count_recording, current_limits

if TYPE_CHECKING:
    import hashlib
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from correlate.formats.columns.layout import Column, ColumnLayout


_BLOCK: Final = 2**20
_LINE_SAMPLES: Final = 5
"""Samples that take as much memory as the number of a line in a list."""
_UTF_16: Final = (b"\xff\xfe", b"\xfe\xff")


@dataclass(frozen=True, slots=True)
class TimedRows:
    """Numbers by channel and output time.

    Attributes
    ----------
    times
        Shape ``(times,)``, in the unit of the layout.
    lines
        Line on which each of them stands, shape ``(times,)``.
    channels
        Name and column of each channel.
    samples
        Of each channel, shape ``(times,)``, contiguous, read-only.
    faults
        By the number of a channel, its first cell that is not a number.
    cut
        Why the end of the file was left out; None when nothing was.
    """

    times: NDArray[np.float64]
    lines: NDArray[np.int64]
    channels: tuple[tuple[str, Column], ...]
    samples: Sequence[NDArray[np.float64]]
    faults: Mapping[int, NoNumberError]
    cut: FormatError | None = None


def texts(stream: BinaryIO, digest: hashlib._Hash, file: str) -> Iterator[tuple[int, str]]:
    """Yield the file as pieces of whole lines, so that a bad line stops the reading where it stands.

    A last line without a line break is a piece of its own, the only one that does not end in one.
    """
    waiting = stream.read(FIRST_LOOK)
    digest.update(waiting)
    _check_is_text(waiting, file)
    number = 1
    while more := stream.read(_BLOCK):
        digest.update(more)
        end = more.rfind(b"\n") + 1
        if not end:
            raise FormatError(
                f"the line is longer than {_BLOCK // 2**20} MiB",
                where=f"{file}, line {number + waiting.count(10)}",
                remedy="check that it is the file you mean",
            )
        piece = waiting + more[:end]
        yield number, decoded(piece)
        number += piece.count(b"\n")
        waiting = more[end:]
    whole = waiting[: waiting.rfind(b"\n") + 1]
    if whole:
        yield number, decoded(whole)
    if len(whole) < len(waiting):
        yield number + whole.count(b"\n"), decoded(waiting[len(whole) :])


def _check_is_text(start: bytes, file: str) -> None:
    if not start:
        raise FormatError("the file is empty", where=file, remedy="export it again")
    if start.startswith(_UTF_16):
        raise FormatError("the file is text in UTF-16", where=file, remedy="save it as UTF-8")
    if not looks_like_text(start):
        raise FormatError("the file is not text", where=file, remedy="name a text file")
    if b"\r" in start and b"\n" not in start:
        raise FormatError(
            "the lines end in a carriage return alone", where=file, remedy="save it with other line ends"
        )


def read_table(
    pieces: Iterable[tuple[int, str]],
    layout: ColumnLayout,
    rows: RowReader,
    *,
    file: str,
    cut_end: Callable[[], FormatError | None],
) -> TimedRows:
    """Read a file that is one table, but for a last line that is cut off."""
    lines: list[int] = []
    cut = None
    for first, text in pieces:
        if not text.endswith("\n"):
            cut = cut_end() or rows.take_last(text, first, lines)
            break
        for number, line in enumerate(text_lines(text), start=first):
            if rows.is_row(line, number):
                rows.take(line, number)
                lines.append(number)
        rows.read_on()
    _check_enough(len(lines), layout, file, cut)
    numbers = rows.numbers()
    time = [column.name for column in layout.columns if column.unit].index(layout.time)
    channels = tuple((column.name, column) for column in layout.channels)
    samples = [numbers[index] for index in range(len(numbers)) if index != time]
    faults = rows.faults([("", column) for _, column in channels])
    return TimedRows(numbers[time], np.array(lines, dtype=np.int64), channels, samples, faults, cut)


def _check_enough(rows: int, layout: ColumnLayout, file: str, cut: FormatError | None) -> None:
    if rows >= 2:
        return
    if cut is not None:
        raise cut
    found = "one row of numbers only" if rows else "no row of numbers"
    behind = f" behind the {layout.skip_lines} skipped lines" if layout.skip_lines else ""
    raise FormatError(
        f"there is {found}{behind}",
        where=file,
        remedy=f"export it again, or correct 'skip_lines' of layout '{layout.name}'",
    )


class RowReader:
    """Takes rows apart, and reads the numbers of many rows at once."""

    def __init__(self, layout: ColumnLayout, file: str) -> None:
        self._layout = layout
        self._file = file
        key = layout.block.key if layout.block else ""
        names = [column.name for column in layout.columns]
        self._numbers = [column for column in layout.columns if column.unit]
        self._at = [names.index(column.name) for column in self._numbers]
        self._key_at = names.index(key) if key else None
        first, end = self._at[0], self._at[-1] + 1
        together = end - first == len(self._at)
        self._picked = itemgetter(slice(first, end)) if together else itemgetter(*self._at)
        self._spans = [_span(column) for column in layout.columns if column.characters]
        self._edges = list(_edges(self._spans))
        self._other_lines = layout.other_lines
        self._missing = frozenset(layout.missing)
        spelt = [number_in(mark, layout.decimal) for mark in layout.missing]
        self._missing_numbers = [number for number in spelt if number is not None]
        self._plain = NumberLayout(tuple(column.name for column in self._numbers), "\t", layout.decimal)
        self._waiting: list[tuple[int, str]] = []
        self._rows: list[str] = []
        self._tables: list[NDArray[np.float64]] = []
        self._taken = 0
        self._limits = current_limits()
        self._no_numbers: dict[tuple[str, str], NoNumberError] = {}

    def is_row(self, line: str, number: int) -> bool:
        """Say whether a line is neither skipped, blank, a comment, nor like another line of the layout."""
        layout = self._layout
        plain = line.strip()
        if number <= layout.skip_lines or not plain or (layout.comment and plain.startswith(layout.comment)):
            return False
        return not any(pattern.fits(plain) for pattern in self._other_lines)

    def take(self, line: str, number: int) -> str:
        """Take a row, and leave its numbers for later."""
        cells = self._cells(line, number)
        self._waiting.append((number, line))
        self._rows.append("\t".join(self._picked(cells)))
        return self._key(cells, number)

    def take_last(self, line: str, number: int, lines: list[int]) -> FormatError | None:
        """Take a last line without a line break and note its number; return why where it is no whole row."""
        if not self.is_row(line, number):
            return None
        try:
            self.take(line, number)
            self.read_on()
        except FormatError as error:
            return error
        lines.append(number)
        return None

    def read_on(self) -> None:
        """Read the numbers of the rows taken so far."""
        waiting, rows = self._waiting, self._rows
        self._waiting, self._rows = [], []
        if not waiting:
            return
        self._taken += len(waiting)
        # Beside its numbers, the line of every row is kept as a number of Python.
        self._limits.refuse_table(self._taken, len(self._numbers) + _LINE_SAMPLES, self._file)
        # In cells of numbers a D can only be an exponent of Fortran; elsewhere it stays no number.
        text = "\n".join(rows).replace("D", "E").replace("d", "e").encode()
        table = None
        if len(text) >= COMPILED_FROM or "numba" in sys.modules:
            table = compiled_table(text, self._plain)
        if table is None or table.shape[1] != len(waiting):
            table = np.array([self._careful(line, number) for number, line in waiting]).T
        self._tables.append(table)

    def numbers(self) -> NDArray[np.float64]:
        """Return the numbers of all rows; NaN where a mark stands for a missing value."""
        numbers = self._joined()
        for mark in self._missing_numbers:
            for column, row in zip(self._numbers, numbers, strict=True):
                if column.name != self._layout.time:
                    row[row == mark] = np.nan
        return numbers

    def _joined(self) -> NDArray[np.float64]:
        self.read_on()
        count_recording(sum(table.nbytes for table in self._tables), self._file)
        if len(self._tables) == 1:
            return np.ascontiguousarray(self._tables.pop())
        joined = np.empty((len(self._numbers), sum(table.shape[1] for table in self._tables)))
        begin = 0
        for table in self._tables:
            joined[:, begin : begin + table.shape[1]] = table
            begin += table.shape[1]
        self._tables.clear()
        return joined

    def faults(self, channels: Sequence[tuple[str, Column]]) -> dict[int, NoNumberError]:
        """Return the errors of cells that are not numbers, by the position of their channel."""
        named = ((place, (key, column.name)) for place, (key, column) in enumerate(channels))
        return {place: self._no_numbers[name] for place, name in named if name in self._no_numbers}

    def fault(self, what: str, number: int, kind: type[FormatError] = FormatError) -> FormatError:
        """Return the error for a line, unless a row before it holds what is no number."""
        self.read_on()
        remedy = f"correct the line or the layout '{self._layout.name}'"
        if self._layout.block is not None:
            remedy += ", whose 'end' says what follows the rows"
        return kind(what, where=f"{self._file}, line {number}", remedy=remedy)

    def _careful(self, line: str, number: int) -> list[float]:
        cells = self._cells(line, number)
        found = []
        for index, column in zip(self._at, self._numbers, strict=True):
            try:
                found.append(self._number(cells[index], column, number))
            except NoNumberError as error:
                # Without its times no channel can be used; without a number, only its own.
                if column.name == self._layout.time:
                    raise
                self._no_numbers.setdefault((self._key(cells, number), column.name), error)
                found.append(math.nan)
        return found

    def _cells(self, line: str, number: int) -> Sequence[str]:
        if not self._spans:
            cells = line.split(self._layout.separator or None)
            if len(cells) != len(self._layout.columns):
                counted = "1 column" if len(cells) == 1 else f"{len(cells)} columns"
                what = f"the line has {counted}, the layout '{self._layout.name}' {len(self._layout.columns)}"
                raise self.fault(what, number)
            return cells
        if "\t" in line:
            raise self.fault("the line contains a tab, so its characters cannot be counted", number)
        for at, beside in self._edges:
            if line[at : at + 1].strip() and line[beside : beside + 1].strip():
                raise self._cut(line, at, number)
        return [line[first:end] for first, end in self._spans]

    def _cut(self, line: str, at: int, number: int) -> FormatError:
        what = f"character {at + 1}, '{line[at]}', is beside a column and may be a part of its cell"
        return self.fault(what, number)

    def _key(self, cells: Sequence[str], number: int) -> str:
        if self._key_at is None:
            return ""
        key = cells[self._key_at].strip()
        if not key:
            raise self.fault(f"column '{self._layout.columns[self._key_at].name}' is empty", number)
        return key

    def _number(self, cell: str, column: Column, number: int) -> float:
        if cell.strip() in self._missing and column.name != self._layout.time:
            return math.nan
        value = number_in(cell, self._layout.decimal)
        if value is not None and math.isfinite(value):
            return value
        said = shortened(cell)
        if not said:
            what = f"column '{column.name}' is empty"
        elif value is None:
            mark = self._layout.decimal
            what = f"'{said}' in column '{column.name}' is not a number with the decimal mark '{mark}'"
        else:
            what = f"'{said}' in column '{column.name}' is not a finite number"
        is_mark = value is not None or stands_for_no_number(cell)
        raise self.fault(what, number, NoNumberError if is_mark else FormatError)


def _span(column: Column) -> tuple[int, int]:
    first, last = column.characters or (0, 0)
    return first - 1, last


def _edges(spans: list[tuple[int, int]]) -> Iterator[tuple[int, int]]:
    """Yield each place beside a column that belongs to no other, and the place in the column next to it."""
    taken = {at for first, end in spans for at in range(first, end)}
    for first, end in spans:
        if first > 0 and first - 1 not in taken:
            yield first - 1, first
        if end not in taken:
            yield end, end - 1
