"""How a table of columns is laid out, and the patterns of its lines."""

from __future__ import annotations

import hashlib
import itertools
import json
import re
from dataclasses import asdict, dataclass
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING, Final

from correlate.errors import SettingsError, UnitError
from correlate.formats.number_text import plain_number
from correlate.units import parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator
    from pathlib import Path

_OTHER_EXPONENT: Final = re.compile(r"([+-]?(?:\d+(?:\.\d*)?|\.\d+))(?:[dD]([+-]?\d+)|([+-]\d{3}))", re.ASCII)


def number_in(text: str, decimal: str = ".") -> float | None:
    """Return the number a cell spells, or None.

    Exponents may also be written as Fortran writes them: after a ``D``, or with a sign and three digits
    alone (from memory of its standard).

    Examples
    --------
    >>> number_in("-1.5D+02"), number_in(" 1.25-101"), number_in("2,5", ","), number_in("2.5", ",")
    (-150.0, 1.25e-101, 2.5, None)
    """
    if decimal == ",":
        if "." in text:
            return None
        text = text.replace(",", ".")
    number = plain_number(text)
    if number is not None:
        return number
    match = _OTHER_EXPONENT.fullmatch(text.strip())
    return float(f"{match[1]}e{match[2] or match[3]}") if match else None


_TIME: Final = "{time}"
_PIECES: Final = re.compile(r"(\{time\}|\*|\?|\s+)")


class LinePattern:
    """A line in which some parts are free.

    Blanks at the ends of line and pattern do not count. A run of blanks fits any run of blanks, ``*`` any
    text, ``?`` one character and ``{time}`` a number, with or without blanks before it, that is not part
    of a longer word; everything else fits itself.

    Attributes
    ----------
    times
        How often ``{time}`` is in it.
    is_vague
        Whether free text stands beside ``{time}`` but no word does, so that a row of numbers might fit.

    Examples
    --------
    >>> LinePattern("nodes  at time {time}*").time_in(" nodes at  time 1.5E-3 (cycle 12)")
    0.0015
    >>> LinePattern("nodes at time {time}*").time_in("nodes at no time") is None
    True
    """

    def __init__(self, text: str, decimal: str = ".") -> None:
        pieces = [piece for piece in _PIECES.split(text.strip()) if piece]
        words = [piece for piece in pieces if piece not in {_TIME, "*", "?"} and piece.strip()]
        self.times = pieces.count(_TIME)
        self.is_vague = not any(re.search(r"[^\W\d]|[^\w\s.,+-]", word) for word in words) and bool(
            {"*", "?"} & set(pieces)
        )
        self._decimal = decimal
        # A plain search for one word settles most lines without the regular expression.
        self._word = max(words, key=len, default="")
        self._expression = re.compile(_expression(pieces, re.escape(decimal)))

    def fits(self, line: str) -> bool:
        """Say whether a line looks like this."""
        return self._word in line and self._expression.fullmatch(line.strip()) is not None

    def time_in(self, line: str) -> float | None:
        """Return the time in a line that looks like this, or None when it does not."""
        if self._word not in line:
            return None
        match = self._expression.fullmatch(line.strip())
        return number_in(match["time"], self._decimal) if match else None


def _expression(pieces: list[str], mark: str) -> str:
    parts: list[str] = []
    for index, piece in enumerate(pieces):
        before = pieces[index - 1] if index else ""
        behind = pieces[index + 1] if index + 1 < len(pieces) else ""
        if piece == "*":
            parts.append(".*?")
        elif piece == "?":
            parts.append(".")
        elif piece == _TIME:
            name = "" if _TIME in pieces[:index] else "?P<time>"
            parts.append(rf"{_before_number(before)}({name}{_number(mark)})(?!\w|[.,]\d)")
        elif piece.isspace():
            # Where columns are fixed a sign takes the place of the blank.
            parts.append(r"(?:\s+|(?=[+-]))" if behind == _TIME else r"\s+")
        else:
            parts.append(re.escape(piece))
    return "".join(parts)


def _before_number(before: str) -> str:
    """Keep free text from taking a part of the number: ``*{time}`` does not fit ``1.5.3`` or ``x12``."""
    return r"(?<![\w.,+-])" if before in {"*", "?"} else r"\s*"


def _number(mark: str) -> str:
    return rf"[+-]?(?:[0-9]+(?:{mark}[0-9]*)?|{mark}[0-9]+)(?:[eEdD][+-]?[0-9]+|[+-][0-9]{{3}})?"


_STARTS_A_NUMBER: Final = frozenset("0123456789+-.,")


@dataclass(frozen=True, slots=True, kw_only=True)
class Column:
    """One column.

    Attributes
    ----------
    name
        Of the channel, or of what the column holds.
    unit
        Of its numbers; empty for the key of a block and for a column that is ignored.
    characters
        First and last character of the column within a line, counted from 1; None where blanks separate
        the columns.
    ignore
        True for a column that is passed over, whatever is in it.
    """

    name: str
    unit: str = ""
    characters: tuple[int, int] | None = None
    ignore: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatedBlock:
    """A block of rows that the file repeats for every output time.

    Attributes
    ----------
    start
        What the first line of a block looks like, see `LinePattern`; it holds ``{time}``.
    time_unit
        Unit of that time.
    key
        Column that names what a row belongs to; empty when a block has one row.
    skip_lines
        Lines between the first line of a block and its rows.
    end
        What the line behind the last row looks like; the empty text stands for a blank line. None: the
        rows go on to the next block or the end of the file.
    """

    start: str
    time_unit: str
    key: str = ""
    skip_lines: int = 0
    end: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class NormalEnd:
    """What a solver writes when a run has ended normally.

    Attributes
    ----------
    text
        Pattern of the line, see `LinePattern`.
    file
        File that contains it, beside the results, ``{stem}`` being their name without suffix; empty for the
        results themselves.
    """

    text: str
    file: str = ""

    def file_of(self, results: Path) -> Path:
        """Return the file in which the mark stands."""
        return results.with_name(self.file.replace("{stem}", results.stem)) if self.file else results


SEPARATORS: Final = ("", "\t", ";", ",", "|")
"""What may stand between columns; the empty text is any run of blanks."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ColumnLayout:
    """How numbers stand in a text file of columns.

    Attributes
    ----------
    name
        Of the layout.
    columns
        All columns of a row; where characters are counted, those that matter.
    time
        Name of the column that holds the times; empty when a block gives them.
    separator
        Separator of the columns, one of `SEPARATORS`.
    skip_lines
        Lines at the top of the file that are passed over.
    header
        Lines that must stand among these, blanks aside. They name the columns: a file with the same number
        of columns in another order is refused instead of read under the wrong names.
    comment
        Lines that begin with this are passed over; empty when there are none.
    skip_like
        Patterns of further lines to skip, such as repeated headers; see `LinePattern`.
    missing
        Cells that stand for a missing value; numbers in any spelling.
    decimal
        The decimal mark, ``.`` or ``,``.
    block
        None when the file is one table with a row for every time.
    normal_end
        Mark of a finished run; None when there is none.
    files
        Patterns of the names of files it applies to; any text file when empty.

    Raises
    ------
    SettingsError
        The columns contradict each other, or there is no time or no channel among them.
    UnitError
        A unit cannot be parsed.

    Examples
    --------
    >>> layout = ColumnLayout(
    ...     name="probe",
    ...     time="t",
    ...     columns=(Column(name="t", unit="ms"), Column(name="force", unit="kN")),
    ... )
    >>> [column.name for column in layout.channels]
    ['force']
    """

    name: str
    columns: tuple[Column, ...]
    time: str = ""
    separator: str = ""
    skip_lines: int = 0
    header: tuple[str, ...] = ()
    comment: str = ""
    skip_like: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()
    decimal: str = "."
    block: RepeatedBlock | None = None
    normal_end: NormalEnd | None = None
    files: tuple[str, ...] = ()

    def __post_init__(self) -> None:
        """Refuse what no file could be read by."""
        for column in self.columns:
            if column.unit:
                self._check_unit(column.unit, f"column '{column.name}'")
        if self.block is not None:
            self._check_unit(self.block.time_unit, "'time_unit'")
        fault = next(self._faults(), None)
        if fault is not None:
            raise SettingsError(fault[0], where=f"layout '{self.name}'", remedy=fault[1])

    @property
    def channels(self) -> tuple[Column, ...]:
        """Columns whose numbers become channels."""
        return tuple(column for column in self.columns if column.unit and column.name != self.time)

    @property
    def time_unit(self) -> str:
        """Unit of the times."""
        if self.block is not None:
            return self.block.time_unit
        return next(column.unit for column in self.columns if column.name == self.time)

    @property
    def sha256(self) -> str:
        """Hash of the layout without ``files``: layouts with equal hashes read a file in the same way."""
        said = {key: value for key, value in asdict(self).items() if key != "files"}
        return hashlib.sha256(json.dumps(said, sort_keys=True).encode()).hexdigest()

    def describes(self, path: Path) -> bool:
        """Say whether the layout applies to the name of a file."""
        return not self.files or any(fnmatchcase(path.name, pattern) for pattern in self.files)

    @property
    def other_lines(self) -> tuple[LinePattern, ...]:
        """What lines look like that are no rows, blank ones and comments aside."""
        end = [self.normal_end.text] if self.normal_end and not self.normal_end.file else []
        return tuple(LinePattern(text) for text in (*self.skip_like, *end))

    def _check_unit(self, unit: str, where: str) -> None:
        try:
            parse_unit(unit)
        except UnitError as error:
            raise error.located(f"layout '{self.name}', {where}") from error

    def _faults(self) -> Iterator[tuple[str, str]]:
        """Yield what is wrong and what to do about it; a check relies on the first fault ending it all."""
        yield from self._faults_of_lines()
        yield from self._faults_of_columns()
        yield from self._faults_of_characters()
        yield from self._faults_of_time()
        if self.block is not None:
            yield from self._faults_of_block(self.block)
        if not self.channels:
            yield "no column is a channel", "give the columns of numbers their units"

    def _faults_of_lines(self) -> Iterator[tuple[str, str]]:
        if self.skip_lines < 0 or (self.block is not None and self.block.skip_lines < 0):
            yield "'skip_lines' is below zero", "give the number of lines to skip"
        if self.comment != self.comment.strip() or set(self.comment[:1]) & _STARTS_A_NUMBER:
            yield (
                f"'{self.comment}' cannot mark a comment, because a row of numbers could begin with it",
                "write a mark such as '#'",
            )
        if self.decimal not in {".", ","}:
            yield f"the decimal mark is '{self.decimal}'", "write '.' or ','"
        if self.separator not in SEPARATORS or self.separator == self.decimal:
            yield (
                f"{self.separator!r} cannot separate columns with the decimal mark '{self.decimal}'",
                "write a tab, ';', ',' or '|', or leave 'separator' out for blanks",
            )
        end = self.normal_end
        for text in (*self.skip_like, *([end.text] if end else [])):
            yield from self._faults_of_pattern(text)
        if end is not None and set(end.file) & {"/", "\\", "\0"}:
            yield f"'{end.file}' is not the name of a file beside the results", "write it without a folder"

    @staticmethod
    def _faults_of_pattern(text: str) -> Iterator[tuple[str, str]]:
        if LinePattern(text).times or not re.search(r"[^\W\d]|[^\w\s.,+*?-]|[-=]{3}", text):
            yield f"'{text}' could match a row of numbers", "add some words of the line"

    def _faults_of_columns(self) -> Iterator[tuple[str, str]]:
        if not self.columns:
            yield "there are no columns", "list them under 'columns'"
        names = [column.name for column in self.columns]
        for column in self.columns:
            name = column.name
            if not name or name != name.strip() or not name.isprintable():
                yield f"'{name}' cannot name a column", "use a name without leading or trailing blanks"
            if names.count(name) > 1:
                yield f"two columns are called '{name}'", "rename one of them"
            if column.ignore and (column.unit or name in {self.time, self.block and self.block.key}):
                yield f"column '{name}' is ignored and used", "take out 'ignore', or its unit and use"
            if not (column.unit or column.ignore or (self.block and name == self.block.key)):
                yield (
                    f"column '{name}' has no unit",
                    "write one, '1' for a plain number, or 'ignore = true' to skip it",
                )

    def _faults_of_characters(self) -> Iterator[tuple[str, str]]:
        spans = sorted((*column.characters, column.name) for column in self.columns if column.characters)
        if spans and self.separator:
            yield "'separator' and 'characters' both define the columns", "remove one of them"
        if spans and len(spans) < len(self.columns):
            bare = next(column.name for column in self.columns if not column.characters)
            yield f"column '{bare}' has no 'characters' and others have", "write them for all or for none"
        for first, last, name in spans:
            if not 1 <= first <= last:
                yield (
                    f"column '{name}' lies in characters {first} to {last}",
                    "count from 1 and give the first character first",
                )
        for (_, end, name), (start, _, other) in itertools.pairwise(spans):
            if start <= end:
                yield f"columns '{name}' and '{other}' share character {start}", "correct one of them"

    def _faults_of_time(self) -> Iterator[tuple[str, str]]:
        if self.block is not None and self.time:
            yield "both 'time' and 'block' say where the times are", "take one of them out"
        if self.block is None and self.time not in {column.name for column in self.columns}:
            what = f"there is no column '{self.time}' for the times" if self.time else "'time' is missing"
            yield what, "name the column of the times under 'time', or describe the 'block'"
        unit = self.time_unit
        if parse_unit(unit).dimension != "time":
            yield f"the unit of the times is '{unit}', which is not a unit of time", "write 's' or 'ms'"

    def _faults_of_block(self, block: RepeatedBlock) -> Iterator[tuple[str, str]]:
        start = LinePattern(block.start)
        if start.times != 1:
            yield f"the start of a block, '{block.start}', holds no single '{{time}}'", "write it once"
        elif start.is_vague:
            yield (
                f"the start of a block, '{block.start}', could match a row of numbers",
                "add some words of the line beside '{time}'",
            )
        if block.end is not None and LinePattern(block.end).times:
            yield f"the end of a block, '{block.end}', holds '{{time}}'", "take it out"
        key = [column for column in self.columns if column.name == block.key]
        if block.key and not key:
            yield f"there is no column '{block.key}' for the key", "name a column under 'key'"
        if key and key[0].unit:
            yield f"the key '{block.key}' has a unit", "remove it: the key is a name, not a number"


def layout_for(path: Path, layouts: Iterable[ColumnLayout]) -> ColumnLayout | None:
    """Return the layout that applies to a file, or None where none does.

    Raises
    ------
    SettingsError
        Several do.
    """
    fitting = [layout for layout in layouts if layout.describes(path)]
    if len(fitting) > 1:
        named = " and ".join(f"'{layout.name}'" for layout in fitting)
        raise SettingsError(
            f"the layouts {named} both apply to this file",
            where=str(path),
            remedy="list the file names of each layout under 'files'",
        )
    return fitting[0] if fitting else None
