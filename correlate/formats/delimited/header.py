"""The head of a delimited file: decimal mark, names, units, time column."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.errors import ChannelError, CorrelateError, FormatError, UnitError
from correlate.files import FIRST_LOOK
from correlate.formats.number_text import NumberLayout, data_lines, plain_number
from correlate.formats.text import decoded, looks_like_text, shortened, text_lines
from correlate.units import parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator


_MAY_BE_THOUSANDS: Final = re.compile(r"[+-]?[1-9][0-9]{0,2}(,[0-9]{3})+")
_WHOLE: Final = re.compile(r"\s*[+-]?[0-9]+\s*")


def found_decimal_mark(lines: Iterable[tuple[int, str]], separator: str, columns: int, *, file: str) -> str:
    """Return the decimal mark of rows of numbers."""
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


SEPARATORS: Final = {"\t": "tab", ";": "semicolon", ",": "comma"}
TIME_NAMES: Final = frozenset({"time", "t", "zeit", "temps"})
EXAMPLE: Final = "'time [ms], force [kN]'"

_IN_SQUARE_BRACKETS: Final = re.compile(r"(?P<name>.*?)\s*\[(?P<unit>[^\[\]]*)\]")
_IN_ROUND_BRACKETS: Final = re.compile(r"(?P<name>.*?)\s*\((?P<unit>[^()]*)\)")


@dataclass(frozen=True, slots=True)
class DelimitedColumn:
    """One column.

    Attributes
    ----------
    name
        Without the unit.
    unit
        As written.
    """

    name: str
    unit: str

    @property
    def is_time(self) -> bool:
        """Whether name and unit say time."""
        return self.name.casefold() in TIME_NAMES and parse_unit(self.unit).dimension == "time"


def found_separator(line: str, *, where: str) -> str:
    """Return the separator of a header line."""
    bare = re.sub(r'"[^"]*"', "", line)
    words = [word for word in re.split(r"[\s;,]+", bare) if word]
    if words and all(plain_number(word) is not None for word in words):
        raise FormatError(
            "there is no header, only numbers", where=where, remedy=f"write a first line such as {EXAMPLE}"
        )
    for separator in SEPARATORS:
        if separator in bare:
            return separator
    raise FormatError(
        f"'{shortened(line)}' is not a header of several columns",
        where=where,
        remedy=f"write a line such as {EXAMPLE}, with commas, semicolons or tabs",
    )


def split_cells(line: str, separator: str, *, where: str) -> list[str]:
    """Return the cells of a header or unit line, quotes taken off."""
    try:
        rows = list(csv.reader([line], delimiter=separator, skipinitialspace=True, strict=True))
    except csv.Error as error:
        raise FormatError(
            f"the quotes are wrong ({error})", where=where, remedy="correct the line"
        ) from error
    return [cell.strip() for cell in rows[0]]


def header_columns(cells: list[str], units: list[str] | None, *, where: str) -> tuple[DelimitedColumn, ...]:
    """Return the columns of a header."""
    pairs = (
        list(zip(cells, units, strict=True)) if units is not None else [name_and_unit(cell) for cell in cells]
    )
    seen: dict[str, int] = {}
    for number, (name, unit) in enumerate(pairs, start=1):
        place = f"{where}, column {number} ('{shortened(name)}')"
        if not name:
            raise FormatError(
                "the column has no name",
                where=f"{where}, column {number}",
                remedy="name it, or take out the separator before it",
            )
        if unit is None:
            raise FormatError(
                "the column has no unit", where=place, remedy=f"write it in brackets: '{name} [mm]'"
            )
        try:
            parse_unit(unit)
        except UnitError as error:
            raise error.located(place) from error
        if name in seen:
            raise ChannelError(
                f"columns {seen[name]} and {number} have the same name",
                where=place,
                remedy="rename one of them",
            )
        seen[name] = number
    return tuple(DelimitedColumn(name, unit or "") for name, unit in pairs)


def name_and_unit(cell: str) -> tuple[str, str | None]:
    """Split the name of a column from the unit in brackets behind it.

    Examples
    --------
    >>> name_and_unit("force [kN]"), name_and_unit("force (kN)"), name_and_unit("force (left)")
    (('force', 'kN'), ('force', 'kN'), ('force (left)', None))
    """
    match = _IN_SQUARE_BRACKETS.fullmatch(cell)
    if match:
        return match["name"], match["unit"].strip()
    match = _IN_ROUND_BRACKETS.fullmatch(cell)
    if match and is_unit(match["unit"]):
        return match["name"], match["unit"].strip()
    return cell, None


def is_unit(text: str) -> bool:
    """Say whether a text is a unit."""
    try:
        parse_unit(text)
    except CorrelateError:
        return False
    return True


def time_column(columns: tuple[DelimitedColumn, ...], *, where: str) -> int:
    """Return the index of the time column."""
    found = [index for index, column in enumerate(columns) if column.is_time]
    if not found:
        named = [column for column in columns if column.name.casefold() in TIME_NAMES]
        reason = (
            f"the unit of '{named[0].name}' is '{named[0].unit}', which is not a unit of time"
            if named
            else "there is no time column"
        )
        raise FormatError(reason, where=where, remedy="name one column 'time [s]' or 'time [ms]'")
    if len(found) > 1:
        names = " and ".join(f"'{columns[index].name}'" for index in found)
        raise FormatError(f"{names} both name the time", where=where, remedy="rename one of them")
    if len(columns) == 1:
        raise FormatError(
            "there is a time column but no channel", where=where, remedy=f"write a header such as {EXAMPLE}"
        )
    return found[0]


COMMENT: Final = "#"
UTF_16: Final = (b"\xff\xfe", b"\xfe\xff")


@dataclass(frozen=True, slots=True)
class FileHead:
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

    columns: tuple[DelimitedColumn, ...]
    time: int
    layout: NumberLayout
    details: dict[str, str]
    size: int
    lines: int


def parsed_head(data: bytes, *, file: str) -> FileHead:
    """Read the start of a file."""
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
    layout = NumberLayout(tuple(column.name for column in columns), separator, comment=COMMENT)
    samples = data_lines(data[size:], layout, number + 1)
    decimal = found_decimal_mark(samples, separator, len(columns), file=file)
    layout = NumberLayout(layout.columns, separator, decimal, COMMENT)
    return FileHead(columns, time_column(columns, where=where), layout, details, size, number)


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
