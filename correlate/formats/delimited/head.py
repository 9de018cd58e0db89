"""The start of a delimited text file: comments, header, units, and how its numbers are written."""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.errors import FormatError
from correlate.files import FIRST_LOOK
from correlate.formats.delimited.decimal_mark import found_decimal_mark
from correlate.formats.delimited.header import (
    EXAMPLE,
    Column,
    found_separator,
    header_columns,
    name_and_unit,
    split_cells,
    time_column,
)
from correlate.formats.number_text import Layout, data_lines, plain_number
from correlate.formats.text_file import decoded, looks_like_text, text_lines

if TYPE_CHECKING:
    from collections.abc import Iterator

COMMENT: Final = "#"
UTF_16: Final = (b"\xff\xfe", b"\xfe\xff")


@dataclass(frozen=True, slots=True)
class Head:
    """What the start of the file says.

    Attributes
    ----------
    columns
        All, the time among them.
    time
        Index of the time column.
    layout
        How the numbers are written.
    details
        From comment lines ``# key: text`` above the header; lines without a colon under ``comment``.
    size
        Bytes in front of the first row.
    lines
        Lines in front of the first row.
    """

    columns: tuple[Column, ...]
    time: int
    layout: Layout
    details: dict[str, str]
    size: int
    lines: int


def parsed_head(data: bytes, *, file: str) -> Head:
    """Read the start of a file.

    Parameters
    ----------
    data
        Its first bytes, `FIRST_LOOK` of them unless the file is shorter.
    file
        For messages.

    Returns
    -------
    Head

    Raises
    ------
    FormatError
        It is no text, has no header, no units or no time column, or its decimal mark cannot be told.
    ChannelError, UnitError
        Two columns have the same name, or a unit cannot be parsed.
    """
    data = _whole_lines(data, file)
    texts = text_lines(decoded(data))
    rows = _content(texts)
    details = _details(texts)
    number, line = next(rows, (0, ""))
    if not line:
        raise FormatError("there are only comments", where=file, remedy=f"write a header such as {EXAMPLE}")
    where = f"{file}, line {number}"
    separator = found_separator(line, where=where)
    cells = split_cells(line, separator, where=where)
    units = None
    if all(name_and_unit(cell)[1] is None for cell in cells):
        number, units = _unit_row(next(rows, (0, "")), separator, len(cells), where)
    columns = header_columns(cells, units, where=where)
    size = sum(len(raw) + 1 for raw in data.split(b"\n")[:number])
    layout = Layout(tuple(column.name for column in columns), separator, comment=COMMENT)
    samples = data_lines(data[size:], layout, number + 1)
    decimal = found_decimal_mark(samples, separator, len(columns), file=file)
    layout = Layout(layout.columns, separator, decimal, COMMENT)
    return Head(columns, time_column(columns, where=where), layout, details, size, number)


def _whole_lines(data: bytes, file: str) -> bytes:
    """Return the lines that are complete, or refuse what is no text."""
    if data.startswith(UTF_16):
        raise FormatError("the file is text in UTF-16", where=file, remedy="save it as UTF-8")
    if not looks_like_text(data):
        raise FormatError("the file is not text", where=file, remedy="name a text file")
    if b"\r" in data and b"\n" not in data:
        raise FormatError(
            "the lines end in a carriage return alone", where=file, remedy="save it with other line ends"
        )
    if len(data) < FIRST_LOOK:
        return data
    end = data.rfind(b"\n") + 1
    if not end:
        raise FormatError(
            f"the first line is longer than {FIRST_LOOK // 1024} kB",
            where=file,
            remedy=f"write a header such as {EXAMPLE}",
        )
    return data[:end]


def _content(lines: list[str]) -> Iterator[tuple[int, str]]:
    """Yield number and text of the lines that are neither blank nor comments."""
    for number, line in enumerate(lines, start=1):
        if line.strip() and not line.lstrip().startswith(COMMENT):
            yield number, line


def _details(lines: list[str]) -> dict[str, str]:
    """Return the comments above the header; the texts of a repeated key on separate lines."""
    details: dict[str, str] = {}
    for line in lines:
        plain = line.strip()
        if plain and not plain.startswith(COMMENT):
            break
        if not plain:
            continue
        key, colon, text = plain.removeprefix(COMMENT).partition(":")
        key, text = (key.strip(), text.strip()) if colon and key.strip() else ("comment", plain[1:].strip())
        details[key] = f"{details[key]}\n{text}" if key in details else text
    return details


def _unit_row(row: tuple[int, str], separator: str, columns: int, where: str) -> tuple[int, list[str]]:
    """Return number and units of the line under a header without units."""
    number, line = row
    cells = split_cells(line, separator, where=where) if line else []
    numbers = all(plain_number(cell.replace(",", ".")) is not None for cell in cells)
    if numbers or len(cells) != columns:
        raise FormatError(
            "the columns have no units",
            where=where,
            remedy=f"write them in brackets after the names, such as {EXAMPLE}",
        )
    return number, [_without_brackets(cell) for cell in cells]


def _without_brackets(unit: str) -> str:
    return unit[1:-1].strip() if re.fullmatch(r"\[.*\]|\([^()]*\)", unit) else unit
