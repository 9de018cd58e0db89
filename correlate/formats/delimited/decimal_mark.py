"""The decimal mark of a delimited text file, point or comma; an error if it cannot be determined."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from correlate.errors import FormatError
from correlate.formats.number_text import plain_number
from correlate.formats.text_file import shortened

if TYPE_CHECKING:
    from collections.abc import Iterable

_MAY_BE_THOUSANDS: Final = re.compile(r"[+-]?[1-9][0-9]{0,2}(,[0-9]{3})+")
_WHOLE: Final = re.compile(r"\s*[+-]?[0-9]+\s*")


def found_decimal_mark(lines: Iterable[tuple[int, str]], separator: str, columns: int, *, file: str) -> str:
    """Return the decimal mark of rows of numbers.

    Parameters
    ----------
    lines
        Number and text of lines at the start of the file, without blank ones and comments.
    separator
        Between cells.
    columns
        Number of columns.
    file
        For messages.

    Returns
    -------
    str
        ``.`` or ``,``.

    Raises
    ------
    FormatError
        Commas may be decimal marks as well as separators of cells or of thousands.
    """
    if separator == ",":
        _check_no_decimal_comma(lines, columns, file)
        return "."
    commas: tuple[int, str] | None = None
    certain = False
    for number, line in lines:
        for cell in (cell.strip() for cell in line.split(separator)):
            if "," not in cell or plain_number(cell.replace(",", "")) is None:
                continue
            commas = commas or (number, cell)
            if "." in cell:
                raise _asked("which of comma and point is the decimal mark", number, cell, file)
            certain = certain or not _MAY_BE_THOUSANDS.fullmatch(cell)
    if commas and not certain:
        raise _asked("is the comma a decimal mark or does it group thousands", *commas, file)
    return "," if commas else "."


def _check_no_decimal_comma(lines: Iterable[tuple[int, str]], columns: int, file: str) -> None:
    """Refuse rows with more cells than columns that would fit if commas were decimal marks."""
    for number, line in lines:
        cells = line.split(",")
        if columns < len(cells) <= 2 * columns and all(map(_WHOLE.fullmatch, cells)):
            raise FormatError(
                f"the line '{shortened(line)}' has {len(cells)} cells and the header {columns}: "
                "are commas used as decimal marks too",
                where=f"{file}, line {number}",
                remedy="write decimal points, or semicolons between the columns",
            )


def _asked(question: str, number: int, cell: str, file: str) -> FormatError:
    return FormatError(
        f"in '{shortened(cell)}', {question}?",
        where=f"{file}, line {number}",
        remedy="write one decimal mark and no mark for thousands",
    )
