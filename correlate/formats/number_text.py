"""Lines of decimal numbers to arrays, exact to the last bit, every fault found by line and column."""

from __future__ import annotations

import csv
import math
import re
import sys
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import FormatError, NoNumberError
from correlate.formats.text import decoded, shortened

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from correlate.errors import CorrelateError

COMPILED_FROM: Final = 65_536
"""Bytes of text that make it worth loading the compiled reader."""


_NO_NUMBER: Final = re.compile(r"[-+]?(?:nan(?:\(\w*\))?|inf|infinity|\d\.#\w+|\*+)", flags=re.IGNORECASE)


def stands_for_no_number(cell: str) -> bool:
    """Return whether a cell is what programs write for NaN, infinity or a number too wide for its column.

    Examples
    --------
    >>> [stands_for_no_number(cell) for cell in ("-nan(ind)", "1.#QNAN", " ****", "1e999", "none", "1.5")]
    [True, True, True, True, False, False]
    """
    number = plain_number(cell)
    return _NO_NUMBER.fullmatch(cell.strip()) is not None or (number is not None and math.isinf(number))


@dataclass(frozen=True, slots=True)
class NumberLayout:
    """How numbers stand in lines.

    Attributes
    ----------
    columns
        Names of the columns, at least one.
    separator
        One ASCII character between cells; empty when there is one column.
    decimal
        The decimal mark, ``.`` or ``,``.
    comment
        One ASCII character that starts a line to pass over; empty when there are none.
    """

    columns: tuple[str, ...]
    separator: str = ""
    decimal: str = "."
    comment: str = ""


def plain_number(text: str) -> float | None:
    """Return the number a text spells in decimal or scientific notation, or None.

    Examples
    --------
    >>> plain_number("-1.5e3"), plain_number("1,5"), plain_number("1_000")
    (-1500.0, None, None)
    """
    if "_" in text or not text.isascii():
        return None
    try:
        return float(text)
    except ValueError:
        return None


def parsed_lines(text: bytes, layout: NumberLayout, *, file: str, first_line: int) -> NDArray[np.float64]:
    """Read lines of numbers."""
    table = _compiled_if_worth_it(text, layout)
    if table is None:
        table = table_by_line(text, layout, file=file, first_line=first_line)
    table.flags.writeable = False
    return table


def usable_columns(
    text: bytes, layout: NumberLayout, *, file: str, first_line: int, faults: dict[int, CorrelateError]
) -> NDArray[np.float64]:
    """Read lines of numbers as far as their columns hold nothing else.

    The first cell of a column that is no number goes to `faults`, by the index of the column. Columns in
    there already are not looked at. What is returned of them is not finite.
    """
    table = None if faults else _compiled_if_worth_it(text, layout)
    if table is None:
        table = _columns_by_line(text, layout, file=file, first_line=first_line, faults=faults)
    table.flags.writeable = False
    return table


def _compiled_if_worth_it(text: bytes, layout: NumberLayout) -> NDArray[np.float64] | None:
    if len(text) < COMPILED_FROM and "numba" not in sys.modules:
        return None
    return compiled_table(text, layout)


def _columns_by_line(
    text: bytes, layout: NumberLayout, *, file: str, first_line: int, faults: dict[int, CorrelateError]
) -> NDArray[np.float64]:
    rows = [
        (number, _cells(line, layout, f"{file}, line {number}"))
        for number, line in data_lines(text, layout, first_line)
    ]
    table = np.full((len(layout.columns), len(rows)), np.nan)
    kept = [index for index in range(len(layout.columns)) if index not in faults]
    lines = "\n".join(layout.separator.join([cells[index] for index in kept]) for _, cells in rows)
    names = tuple(layout.columns[index] for index in kept)
    numbers = _compiled_if_worth_it(lines.encode(), replace(layout, columns=names, comment=""))
    if numbers is not None:
        table[kept] = numbers
        return table
    for index in kept:
        place = f"column {index + 1} ('{layout.columns[index]}')"
        try:
            table[index] = [
                _number(cells[index], layout, f"{file}, line {number}, {place}") for number, cells in rows
            ]
        except FormatError as error:
            faults[index] = error
    return table


def compiled_table(text: bytes, layout: NumberLayout) -> NDArray[np.float64] | None:
    """Read lines of numbers with the compiled reader."""
    from correlate.formats.number_kernel import read_table  # noqa: PLC0415 - loads a compiler

    ended = text if text.endswith(b"\n") else text + b"\n"
    characters = np.frombuffer(ended, dtype=np.uint8)
    lines = int(np.count_nonzero(characters == ord("\n")))
    table = np.empty((len(layout.columns), lines))
    left = np.empty((table.size, 4), dtype=np.int64)
    separator = ord(layout.separator) if layout.separator else 0
    comment = ord(layout.comment) if layout.comment else 0
    rows, waiting = read_table(characters, separator, ord(layout.decimal), comment, table, left)
    if rows < 0:
        return None
    for begin, end, column, row in left[:waiting].tolist():
        table[column, row] = float(ended[begin:end].replace(b",", b"."))
    if not np.isfinite(table[:, :rows]).all():
        return None
    return table if rows == lines else table[:, :rows].copy()


def table_by_line(text: bytes, layout: NumberLayout, *, file: str, first_line: int) -> NDArray[np.float64]:
    """Read lines of numbers one by one, with the library's number reader."""
    rows = [
        _row(line, layout, f"{file}, line {number}") for number, line in data_lines(text, layout, first_line)
    ]
    return np.array(rows, dtype=np.float64).reshape(-1, len(layout.columns)).T.copy()


def data_lines(text: bytes, layout: NumberLayout, first_line: int) -> Iterator[tuple[int, str]]:
    """Go through the lines that are neither blank nor comments."""
    # A tab between cells is no blank.
    blanks = " \r" if layout.separator == "\t" else " \t\r"
    for number, line in enumerate(text.split(b"\n"), start=first_line):
        plain = decoded(line).strip(blanks)
        if plain and not (layout.comment and plain.startswith(layout.comment)):
            yield number, plain


def _cells(line: str, layout: NumberLayout, where: str) -> list[str]:
    """Return one cell for each column; a separator behind the last one is passed over."""
    cells = line.split(layout.separator) if layout.separator else [line]
    if layout.separator and '"' in line:
        cells = _quoted_cells(line, layout, where)
    if len(cells) == len(layout.columns) + 1 and not cells[-1].strip():
        cells.pop()
    if len(cells) != len(layout.columns):
        raise FormatError(
            f"the line has {len(cells)} {'cell' if len(cells) == 1 else 'cells'}, "
            f"the header {len(layout.columns)}",
            where=where,
            remedy="give every line one number for each column",
        )
    return cells


def _quoted_cells(line: str, layout: NumberLayout, where: str) -> list[str]:
    """Return the cells of a line with quotes, which may enclose a separator."""
    try:
        return next(csv.reader([line], delimiter=layout.separator, skipinitialspace=True))
    except csv.Error as error:
        # A carriage return behind a quote, or a cell of more than 131 072 characters.
        raise FormatError(
            f"the quotes are wrong ({error})", where=where, remedy="correct the line"
        ) from error


def _row(line: str, layout: NumberLayout, where: str) -> list[float]:
    cells = _cells(line, layout, where)
    if len(cells) == 1:
        return [_number(cells[0], layout, where)]
    return [
        _number(cell, layout, f"{where}, column {column} ('{name}')")
        for column, (cell, name) in enumerate(zip(cells, layout.columns, strict=True), start=1)
    ]


def _number(cell: str, layout: NumberLayout, where: str) -> float:
    foreign = layout.decimal == "," and "." in cell
    number = None if foreign else plain_number(cell.replace(layout.decimal, "."))
    if number is not None and math.isfinite(number):
        return number
    if not cell.strip():
        what = "the cell is empty"
    elif number is None:
        what = f"'{shortened(cell)}' is not a number with the decimal mark '{layout.decimal}'"
    else:
        what = f"'{shortened(cell)}' is not a finite number"
    kind = NoNumberError if stands_for_no_number(cell) else FormatError
    raise kind(what, where=where, remedy="correct it, or cut the record before it")
