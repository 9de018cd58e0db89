"""The head of a delimited file: decimal mark, names, units, time column."""

from __future__ import annotations

import csv
import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.errors import FormatError, UnitError
from correlate.files import FIRST_LOOK
from correlate.formats.number_text import NumberLayout, data_lines, plain_number
from correlate.formats.recording import told_apart
from correlate.formats.text import decoded, looks_like_text, shortened, text_lines
from correlate.units import is_unit, parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

    from correlate.errors import CorrelateError


_WHOLE: Final = re.compile(r"\s*[+-]?[0-9]+\s*")
_MAY_BE_THOUSANDS: Final = re.compile(r"[+-]?[1-9][0-9]{0,2}([,.][0-9]{3})+")


def found_decimal_mark(
    lines: Iterable[tuple[int, str]], separator: str, columns: int, *, file: str, time: int | None = None
) -> str:
    """Return the decimal mark of rows of numbers.

    A column tells it where a cell can be read in one way only. If columns disagree, that of the times
    decides, or else the majority; the others are then no numbers.
    """
    if separator == ",":
        _check_no_decimal_comma(lines, columns, file)
        return "."
    certain: dict[int, tuple[str, int, str]] = {}
    question: FormatError | None = None
    for number, line in lines:
        for index, text in enumerate(line.split(separator)):
            cell, mark = text.strip(), "," if "," in text else "."
            if index in certain or mark not in cell or plain_number(cell.replace(",", "")) is None:
                continue
            if mark == "," and "." in cell:
                asked = "which of comma and point is the decimal mark"
            elif not _MAY_BE_THOUSANDS.fullmatch(cell):
                certain.setdefault(index, (mark, number, cell))
                continue
            else:
                asked = "is the comma a decimal mark or does it group thousands"
            if mark == ",":
                question = question or _asked(asked, number, cell, file)
    return _agreed(certain, time, question, file)


def _agreed(
    certain: dict[int, tuple[str, int, str]], time: int | None, question: FormatError | None, file: str
) -> str:
    if time in certain:
        return certain[time][0]
    commas = [(number, cell) for mark, number, cell in certain.values() if mark == ","]
    if commas and len(commas) == len(certain) / 2:
        raise _asked("which of comma and point is the decimal mark", *commas[0], file)
    if question is not None and not certain:
        raise question
    return "," if len(commas) > len(certain) / 2 else "."


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
_BEHIND_SLASH: Final = re.compile(r"(?P<name>[^/]+?)\s*/\s*(?P<unit>.+)")
_BEHIND_COMMA: Final = re.compile(r"(?P<name>.+?)\s*,\s*(?P<unit>[^,]+)")
_LABELS: Final = frozenset({"1", "A", "G", "L", "l"})
"""Units that are as often the number, letter or side of a sensor; within square brackets they are units."""


@dataclass(frozen=True, slots=True)
class DelimitedColumn:
    """One column.

    Attributes
    ----------
    name
        Without the unit; told apart from others that are the same.
    unit
        As written.
    fault
        Why the column cannot be used, if it cannot.
    """

    name: str
    unit: str
    fault: CorrelateError | None = None

    @property
    def is_time(self) -> bool:
        """Whether name and unit say time."""
        return _names_time(self.name) and is_unit(self.unit, "time")


def _names_time(name: str) -> bool:
    return re.sub(r" #[0-9]+$", "", name).casefold() in TIME_NAMES


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
    """Return the columns of a header, with what is wrong with them."""
    pairs = (
        list(zip(cells, units, strict=True)) if units is not None else [name_and_unit(cell) for cell in cells]
    )
    names = told_apart(name or f"column {number}" for number, (name, _) in enumerate(pairs, start=1))
    columns = []
    for number, (name, (given, unit)) in enumerate(zip(names, pairs, strict=True), start=1):
        place = f"{where}, column {number}" + (f" ('{shortened(name)}')" if given else "")
        columns.append(DelimitedColumn(name, unit or "", _fault(given, unit, place)))
    return tuple(columns)


def _fault(name: str, unit: str | None, place: str) -> CorrelateError | None:
    """Return why a column cannot be used, if it cannot."""
    if not name:
        remedy = "name it, or remove the separator before it"
        return FormatError("the column has no name", where=place, remedy=remedy)
    if unit is None:
        remedy = f"write it in brackets: '{name} [mm]'"
        return FormatError("the column has no unit", where=place, remedy=remedy)
    try:
        parse_unit(unit)
    except UnitError as error:
        return error.located(place)
    return None


def name_and_unit(cell: str) -> tuple[str, str | None]:
    """Split the name of a column from the unit in brackets, or after a slash or comma, behind it.

    Examples
    --------
    >>> name_and_unit("force [kN]"), name_and_unit("force (kN)"), name_and_unit("force (left)")
    (('force', 'kN'), ('force', 'kN'), ('force (left)', None))
    >>> name_and_unit("speed / km/h"), name_and_unit("force, kN"), name_and_unit("left/right")
    (('speed', 'km/h'), ('force', 'kN'), ('left/right', None))
    """
    match = _IN_SQUARE_BRACKETS.fullmatch(cell)
    if match:
        return match["name"], match["unit"].strip()
    for pattern in (_IN_ROUND_BRACKETS, _BEHIND_SLASH, _BEHIND_COMMA):
        match = pattern.fullmatch(cell)
        if match and _says_unit(match["name"], match["unit"].strip(), cell):
            return match["name"], match["unit"].strip()
    return cell, None


def _says_unit(name: str, unit: str, cell: str) -> bool:
    """Say whether the end of a cell is a unit, and neither a label nor part of a quotient of units."""
    if _names_time(name):
        return is_unit(unit, "time")
    return is_unit(unit) and unit not in _LABELS and not is_unit(cell)


def time_column(columns: tuple[DelimitedColumn, ...], *, where: str) -> int:
    """Return the index of the time column."""
    found = [index for index, column in enumerate(columns) if column.is_time]
    if not found:
        named = [column for column in columns if _names_time(column.name)]
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
    warnings
        What looks odd.
    size
        Bytes in front of the first row.
    lines
        Lines in front of the first row.
    """

    columns: tuple[DelimitedColumn, ...]
    time: int
    layout: NumberLayout
    details: dict[str, str]
    warnings: tuple[str, ...]
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
    if not any(_names_time(name) and unit is not None for name, unit in map(name_and_unit, cells)):
        below, units = _unit_row(next(rows, (0, "")), separator, cells, where)
        number = below if units else number
    if not units and all(name_and_unit(cell)[1] is None for cell in cells):
        raise FormatError(
            "the columns have no units",
            where=where,
            remedy=f"write them in brackets after the names, such as {EXAMPLE}",
        )
    size = sum(len(raw) + 1 for raw in data.split(b"\n")[:number])
    layout = NumberLayout(tuple(cells), separator, comment=COMMENT)
    if not cells[-1] and _ends_in_separators(data[size:], layout, number + 1):
        cells, units = cells[:-1], units[:-1] if units else None
    columns = header_columns(cells, units, where=where)
    time = time_column(columns, where=where)
    samples = data_lines(data[size:], layout, number + 1)
    decimal = found_decimal_mark(samples, separator, len(columns), file=file, time=time)
    layout = NumberLayout(tuple(column.name for column in columns), separator, decimal, COMMENT)
    again = [column.name for column, cell in zip(columns, cells, strict=True) if cells.count(cell) > 1]
    warnings = [
        f"{where}: the name '{name.partition(' #')[0]}' occurs again, and this column is called '{name}'; "
        "rename one of them"
        for name in again
        if " #" in name
    ]
    return FileHead(columns, time, layout, details, tuple(warnings), size, number)


def _ends_in_separators(data: bytes, layout: NumberLayout, first_line: int) -> bool:
    """Say whether the last cell of every row is empty or missing, as that of the header is."""
    rows = (line.split(layout.separator) for _, line in data_lines(data, layout, first_line))
    last = len(layout.columns) - 1
    return not any(cell.strip() for row in rows for cell in row[last:])


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


def _unit_row(
    row: tuple[int, str], separator: str, names: list[str], where: str
) -> tuple[int, list[str] | None]:
    """Return number and units of the line under a header without units, if it holds units."""
    number, line = row
    cells = split_cells(line, separator, where=where) if line else []
    if len(cells) == len(names) - 1 and not names[-1]:
        cells.append("")
    if len(cells) == len(names) + 1 and not cells[-1]:
        cells.pop()
    numbers = any(cell != "1" and plain_number(cell.replace(",", ".")) is not None for cell in cells)
    is_row = (
        not numbers and len(cells) == len(names) and any(is_unit(_without_brackets(cell)) for cell in cells)
    )
    return number, [_without_brackets(cell) for cell in cells] if is_row else None


def _without_brackets(unit: str) -> str:
    return unit[1:-1].strip() if re.fullmatch(r"\[.*\]|\([^()]*\)", unit) else unit
