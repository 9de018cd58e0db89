"""One table: a row for every time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from correlate.errors import FormatError
from correlate.formats.columns.rows import TimedRows
from correlate.formats.text_file import text_lines

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from correlate.formats.columns.cells import RowReader
    from correlate.formats.columns.layout import ColumnLayout


def read_table(
    pieces: Iterable[tuple[int, str]], layout: ColumnLayout, rows: RowReader, file: str
) -> TimedRows:
    """Read a file that is one table.

    Parameters
    ----------
    pieces
        Number of the first line and text of each piece of the file.
    layout
        Of the file.
    rows
        Reads its rows.
    file
        For messages.

    Returns
    -------
    TimedRows

    Raises
    ------
    FormatError
        A row is wrong, or there are fewer than two.
    """
    lines: list[int] = []
    for first, text in pieces:
        for number, line in _row_lines(first, text, layout):
            rows.take(line, number)
            lines.append(number)
        rows.read_on()
    _check_enough(len(lines), layout, file)
    numbers = rows.numbers()
    time = [column.name for column in layout.columns if column.unit].index(layout.time)
    channels = tuple((column.name, column) for column in layout.channels)
    samples = [numbers[index] for index in range(len(numbers)) if index != time]
    return TimedRows(numbers[time], np.array(lines, dtype=np.int64), channels, samples)


def _row_lines(first: int, text: str, layout: ColumnLayout) -> Iterator[tuple[int, str]]:
    """Yield number and text of the lines that are neither skipped, blank nor comments."""
    for number, line in enumerate(text_lines(text), start=first):
        plain = line.strip()
        if number > layout.skip_lines and plain and not (layout.comment and plain.startswith(layout.comment)):
            yield number, line


def _check_enough(rows: int, layout: ColumnLayout, file: str) -> None:
    if rows >= 2:
        return
    found = "one row of numbers only" if rows else "no row of numbers"
    behind = f" behind the {layout.skip_lines} skipped lines" if layout.skip_lines else ""
    raise FormatError(
        f"there is {found}{behind}",
        where=file,
        remedy=f"export it again, or correct 'skip_lines' of layout '{layout.name}'",
    )
