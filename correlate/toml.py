"""TOML files: every mistake of one at once, each with line and key, and how values are written.

The TOML reader of the standard library checks a file but forgets its lines. The scan for them trusts that
check and only looks for table headers and keys.
"""

from __future__ import annotations

import difflib
import hashlib
import re
import tomllib
from dataclasses import dataclass
from functools import cached_property
from types import new_class
from typing import TYPE_CHECKING, Annotated, Any, Final, Generic, NoReturn, TypeVar, get_args

from pydantic import BaseModel, ConfigDict, Field, TypeAdapter, ValidationError

from correlate.display import short_text
from correlate.errors import CorrelateError, FormatError
from correlate.plain_files import whole_bytes

if TYPE_CHECKING:
    from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
    from pathlib import Path

    from pydantic.fields import FieldInfo
    from pydantic_core import ErrorDetails

Name = Annotated[str, Field(min_length=1, pattern=r"^[\w.+-]+$")]
"""A short name, as in commands."""


class Table(BaseModel):
    """A table of the file: unknown keys are mistakes, values never change."""

    model_config = ConfigDict(extra="forbid", frozen=True)

    def __repr__(self) -> str:
        """Return the first keys in one line, long values by their size."""
        return short_text(self)

    __str__ = __repr__


def speak_up(check: Callable[[], object]) -> None:
    """Run a check of a lower layer and pass its sentence on to the validator."""
    try:
        check()
    except CorrelateError as error:
        raise ValueError("; ".join(part for part in (error.what, error.remedy) if part)) from error


Root = TypeVar("Root", bound=Table)


@dataclass(frozen=True, slots=True)
class TomlFile(Generic[Root]):
    """A file and what stands in it.

    Attributes
    ----------
    path
        Of the file.
    table
        The validated content.
    sha256
        Of its bytes.
    """

    path: Path
    table: Root
    sha256: str


def read_toml(path: Path, root: type[Root], *, kind: str) -> TomlFile[Root]:
    """Read and validate a file."""
    source = parse_toml(path, kind=kind)
    try:
        table = root.model_validate(source.content)
    except ValidationError as error:
        refuse(path, mistakes(error, source.content, source.place, root))
    return TomlFile(path, table, source.sha256)


@dataclass(frozen=True)
class TomlSource:
    """A file that is valid TOML, before its tables are validated.

    Attributes
    ----------
    path
        Of the file.
    text, content
        What stands in it, as written and as plain values.
    sha256
        Of its bytes.
    """

    path: Path
    text: str
    content: dict[str, Any]
    sha256: str

    @cached_property
    def lines(self) -> dict[KeyPath, int]:
        """Line of each table and key."""
        return key_lines(self.text)

    def place(self, key: KeyPath) -> Place:
        """Return where a key stands, or the table in which it is missing."""
        words = ".".join(part for part in key if isinstance(part, str)) or "the whole file"
        return Place(self.path, line_of(key, self.lines), words)


def parse_toml(path: Path, *, kind: str) -> TomlSource:
    """Read a file and leave its tables as they are."""
    try:
        raw = whole_bytes(path)
        return parse_text(path, raw.decode("utf-8-sig"), raw)
    except UnicodeDecodeError as error:
        raise _no_toml(path, str(error)) from error
    except (OSError, ValueError) as error:
        # A ValueError where the path holds a NUL.
        said = getattr(error, "strerror", None) or str(error)
        raise FormatError(f"cannot be read ({said})", where=str(path), remedy=f"name {kind}") from error


MOST_ENTRIES: Final = 200_000
"""Lines and values of a file."""
MOST_PARTS: Final = 16
"""Parts of a dotted key."""
MOST_MISTAKES: Final = 50
"""Mistakes that one message lists."""
_LONG_KEY: Final = re.compile(
    rf"""(?<![\w-])(?:(?:[\w-]+|"[^"\n]*"|'[^'\n]*')[ \t]*\.[ \t]*){{{MOST_PARTS}}}"""
)


def _refuse_excess(path: Path, text: str) -> None:
    """Refuse a file that would take minutes to read: the parser goes through all parts of a key for each."""
    if text.count("\n") + text.count(",") > MOST_ENTRIES:
        raise FormatError(
            f"it has more than {MOST_ENTRIES:,} lines and values",
            where=str(path),
            remedy="check that it is the file you mean, or split it",
        )
    found = _LONG_KEY.search(text)
    if found:
        line = text.count("\n", 0, found.start()) + 1
        raise _no_toml(path, f"a key has more than {MOST_PARTS} parts (at line {line})")


def parse_text(path: Path, text: str, raw: bytes | None = None) -> TomlSource:
    """Read a text that stands in a file, or shall."""
    _refuse_excess(path, text)
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise _no_toml(path, str(error)) from error
    except RecursionError as error:
        raise _no_toml(path, "its values are nested too deeply") from error
    except ValueError as error:
        # The parser passes on what Python says of a number of thousands of digits.
        raise _no_toml(path, "a number has thousands of digits") from error
    sha256 = hashlib.sha256(text.encode() if raw is None else raw).hexdigest()
    source = TomlSource(path, text, content, sha256)
    unprintable = [Mistake(source.place(key), words) for key, words in _unprintable(content, ())]
    if unprintable:
        refuse(path, unprintable)
    return source


def _no_toml(path: Path, what: str) -> FormatError:
    return FormatError(f"is not valid TOML: {what}", where=str(path), remedy="correct the line")


_CONTROL: Final = re.compile(r"[\x00-\x08\x0b-\x1f\x7f-\x9f]")


def _unprintable(value: Any, at: KeyPath) -> Iterator[tuple[KeyPath, str]]:
    """Find the control characters, which neither a terminal nor a file name can take."""
    if isinstance(value, dict):
        for key, entry in value.items():
            yield from _unprintable(key, at)
            yield from _unprintable(entry, (*at, key))
    elif isinstance(value, list):
        for index, entry in enumerate(value):
            yield from _unprintable(entry, (*at, index))
    elif isinstance(value, str) and (found := _CONTROL.search(value)):
        yield at, f"the text holds the control character U+{ord(found[0]):04X}; remove it"


# Writing ------------------------------------------------------------------------------------------------


def toml_entry(header: str, values: Mapping[str, Any]) -> str:
    """Return a table with its header, one line a key.

    Examples
    --------
    >>> print(toml_entry("[[repair]]", {"test": "R1", "settings": {"factor": 0.5}}))
    [[repair]]
    test = "R1"
    settings = {factor = 0.5}
    <BLANKLINE>
    """
    lines = [f"{key} = {toml_value(value)}" for key, value in values.items()]
    return "\n".join([header, *lines, ""])


def toml_value(value: Any) -> str:
    """Return a text, number, truth value, list or table in the syntax of TOML, on one line."""
    import tomlkit  # noqa: PLC0415 - only what writes needs it

    if isinstance(value, dict):
        inner = tomlkit.inline_table()
        for key, entry in value.items():
            inner.append(key, tomlkit.value(toml_value(entry)))
        return inner.as_string()
    if isinstance(value, tuple | list):
        return f"[{', '.join(toml_value(entry) for entry in value)}]"
    return str(tomlkit.item(value).as_string())


# Lines and mistakes -------------------------------------------------------------------------------------

KeyPath = tuple[str | int, ...]

_HEADER: Final = re.compile(r"^\s*(\[\[?)\s*([^\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY: Final = re.compile(r"""^\s*((?:[\w-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[\w-]+|"[^"]*"|'[^']*'))*)\s*=""")
_MARK: Final = re.compile(r'"""|\'\'\'|"(?:\\.|[^"\\])*"|\'[^\']*\'|#.*|[\[\]{},]|[^\s\[\]{},#"\']+')


def key_lines(text: str) -> dict[KeyPath, int]:
    r"""Map each table and key to the line it stands on, and the entries of a list that has several lines.

    Examples
    --------
    >>> key_lines("[a]\nb = 1\n[[c]]\nd = 2\n[[c]]\nd = 3")[("c", 1, "d")]
    6
    >>> key_lines("a = [\n  {b = 1},\n  {b = 2},\n]")[("a", 1)]
    3
    """
    lines: dict[KeyPath, int] = {}
    counts: dict[KeyPath, int] = {}
    table: KeyPath = ()
    place: KeyPath = ()
    value = _Value()
    for number, line in enumerate(text.splitlines(), start=1):
        start = 0
        if value.is_complete:
            header = _HEADER.match(line)
            if header:
                table = _open(_parts(header[2]), counts, is_array=header[1] == "[[")
                lines.setdefault(table, number)
                continue
            key = _KEY.match(line)
            if key:
                place, start, value = (*table, *_parts(key[1])), key.end(), _Value()
                lines.setdefault(place, number)
        for entry in value.read(line[start:]):
            if number != lines.get(place):
                lines.setdefault((*place, entry), number)
    return lines


def line_of(path: KeyPath, lines: dict[KeyPath, int]) -> int | None:
    """Return the line of a key or of the first table of an array, or of the nearest table around it."""
    for size in range(len(path), 0, -1):
        for key in (path[:size], (*path[:size], 0)):
            if key in lines:
                return lines[key]
    return None


def _parts(dotted: str) -> KeyPath:
    return tuple(part.strip().strip("\"'") for part in dotted.split("."))


def _open(parts: KeyPath, counts: dict[KeyPath, int], *, is_array: bool) -> KeyPath:
    """Return the full path of a table header, with the index of every array of tables it lies in."""
    path: KeyPath = ()
    for position, part in enumerate(parts, start=1):
        path = (*path, part)
        if is_array and position == len(parts):
            counts[path] = counts.get(path, -1) + 1
        if path in counts:
            path = (*path, counts[path])
    return path


class _Value:
    """What has been read of the value of a key, line by line."""

    def __init__(self) -> None:
        self._open: list[str] = []
        self._closing = ""
        self._entries = 0
        self._awaits_entry = False

    @property
    def is_complete(self) -> bool:
        """Whether no bracket and no long string is open."""
        return not self._open and not self._closing

    def read(self, line: str) -> list[int]:
        """Read a line and return the numbers of the entries of the list that begin on it."""
        begun: list[int] = []
        position = 0
        while position < len(line):
            if self._closing:
                end = line.find(self._closing, position)
                if end < 0:
                    break
                position, self._closing = end + 3, ""
                continue
            mark = _MARK.search(line, position)
            if mark is None or mark[0].startswith("#"):
                break
            begun += self._take(mark[0])
            position = mark.end()
        return begun

    def _take(self, mark: str) -> list[int]:
        """Follow one mark of a line."""
        begins = self._awaits_entry and self._open == ["["] and mark not in {"]", ","}
        if mark in {"[", "{"}:
            self._open.append(mark)
        elif mark in {"]", "}"}:
            del self._open[-1:]
        elif mark in {'"""', "'''"}:
            self._closing = mark
        if self._open == ["["] and mark in {"[", ","}:
            self._awaits_entry = True
        elif begins:
            self._awaits_entry = False
        if not begins:
            return []
        self._entries += 1
        return [self._entries - 1]


@dataclass(frozen=True, slots=True)
class Place:
    """Where something stands.

    Attributes
    ----------
    file
        The file.
    line
        From 1; None where it is unknown.
    key
        Dotted, as people read it.
    """

    file: Path
    line: int | None
    key: str


@dataclass(frozen=True, slots=True)
class Mistake:
    """One mistake of a file: where, and what in words."""

    place: Place
    words: str

    def said(self, home: Path) -> str:
        """Return it as a clause of a message about the file ``home``; another file is named."""
        file, line = self.place.file, self.place.line
        parts = [] if file == home else [_beside(file, home)]
        parts += [f"line {line}"] if line else []
        return f"{', '.join([*parts, self.place.key])}: {self.words}"


def _beside(file: Path, home: Path) -> str:
    """Return the path of a file as seen from the folder of another, if it lies below."""
    return (file.relative_to(home.parent) if file.is_relative_to(home.parent) else file).as_posix()


def refuse(path: Path, found: Iterable[Mistake]) -> NoReturn:
    """Raise the mistakes of a file and of those it includes, each once: the file first, by line.

    Raises
    ------
    FormatError
        Always.
    """
    once = list(dict.fromkeys(found))
    files = [path, *dict.fromkeys(one.place.file for one in once)]
    once.sort(key=lambda one: (files.index(one.place.file), one.place.line or 0))
    count = "1 mistake" if len(once) == 1 else f"{len(once)} mistakes"
    raise FormatError(f"{count}: " + "; ".join(one.said(path) for one in once), where=str(path))


def mistakes(
    error: ValidationError,
    content: Mapping[str, Any],
    place: Callable[[KeyPath], Place],
    *roots: type[BaseModel],
) -> list[Mistake]:
    """Put the mistakes of tables into words, those too that validation did not come to.

    Parameters
    ----------
    error
        What validation of the first of the tables raised.
    content
        What was validated.
    place
        Where a key of what was validated stands.
    roots
        Tables whose keys are known there.
    """
    items = error.errors(include_url=False, include_input=False)
    problems = [_Problem.of(item) for item in items[:MOST_MISTAKES]]
    if len(items) == len(problems):
        problems += _Unchecked(problems).checked(roots[0], content)
    found = [
        Mistake(place(one.location), _words(one, roots))
        for one in dict.fromkeys(problems)
        if not any(one.follows_from(other) for other in problems)
    ]
    if len(items) > MOST_MISTAKES:
        found.append(Mistake(place(()), f"{len(items) - MOST_MISTAKES:,} more mistakes are not listed"))
    return found


@dataclass(frozen=True, slots=True)
class _Problem:
    """What validation says is wrong."""

    location: KeyPath
    kind: str
    message: str

    @classmethod
    def of(cls, item: ErrorDetails) -> _Problem:
        return cls(item["loc"], item["type"], str(item["msg"]).removeprefix("Value error, "))

    def follows_from(self, other: _Problem) -> bool:
        """Say whether the other one lies within and says the same, or is why a list has too few entries."""
        size = len(self.location)
        is_within = len(other.location) > size and other.location[:size] == self.location
        return is_within and (self.kind == "too_short" or self.message == other.message)


class _Unchecked:
    """Runs the checks of whole tables that validation left out because a value in them is wrong.

    A table is built without its wrong keys. A check that asks for one of these stops there, so nothing is
    reported that only follows from another mistake.
    """

    def __init__(self, known: Sequence[_Problem]) -> None:
        self._wrong = {one.location for one in known}
        self._found: list[_Problem] = []

    def checked(self, root: type[BaseModel], content: Mapping[str, Any]) -> list[_Problem]:
        """Return what the checks say."""
        self._table(root, content, ())
        return self._found

    def _table(self, model: type[BaseModel], content: Mapping[str, Any], at: KeyPath) -> BaseModel:
        values: dict[str, Any] = {}
        wrong: set[str] = set()
        # An unknown key may be meant to be any of those that are not there.
        has_unknown = not set(content) <= set(model.model_fields)
        for name, field in model.model_fields.items():
            if name in content or field.is_required() or has_unknown:
                try:
                    values[name] = self._value(field, content[name], (*at, name))
                except (LookupError, ValidationError):
                    wrong.add(name)
        if wrong or has_unknown:
            model = _part_of(model)
        table = model.model_construct(**values)
        for name in wrong:
            table.__dict__.pop(name, None)
        for name, check in model.__pydantic_decorators__.model_validators.items():
            if check.info.mode == "after":
                self._check(getattr(table, name), at)
        return table

    def _value(self, field: FieldInfo, value: Any, at: KeyPath) -> Any:
        """Return a value with the tables in it, or raise that it is wrong."""
        if at in self._wrong:
            raise LookupError(at)
        inner = next(_models_in(field.annotation), None)
        is_one = inner == field.annotation
        if inner is not None and is_one and isinstance(value, dict):
            return self._table(inner, value, at)
        if inner is not None and isinstance(value, list) and all(isinstance(one, dict) for one in value):
            return [self._table(inner, one, (*at, index)) for index, one in enumerate(value)]
        whole: Any = Annotated[field.annotation, *field.metadata, Field()]
        return TypeAdapter(whole).validate_python(value)

    def _check(self, check: Callable[[], object], at: KeyPath) -> None:
        try:
            check()
        except ValueError as error:
            self._found.append(_Problem(at, "value_error", str(error)))
        except AttributeError:
            return  # it asks for a key that is wrong


def _part_of(model: type[BaseModel]) -> type[BaseModel]:
    """Return a table that gives its keys one by one only: together they would not be what was meant."""

    def refuse_whole(*_: object, **__: object) -> NoReturn:
        raise AttributeError

    part: type[BaseModel] = new_class(model.__name__, (model,))
    part.__iter__ = part.model_dump = refuse_whole  # type: ignore[method-assign]
    return part


def _words(item: _Problem, roots: tuple[type[BaseModel], ...]) -> str:
    kind, location = item.kind, item.location
    if kind == "extra_forbidden":
        known = _keys_at(roots, location[:-1])
        close = difflib.get_close_matches(str(location[-1]), known, n=1, cutoff=0.5)
        meant = f"; did you mean '{close[0]}'?" if close else f"; known are {', '.join(known)}"
        return f"there is no such key{meant}"
    if kind == "missing":
        return "this key is missing"
    message = item.message
    return message[:1].lower() + message[1:]


def _keys_at(roots: tuple[type[BaseModel], ...], location: tuple[str | int, ...]) -> list[str]:
    """Return the keys of the tables at a place of the file."""
    models = list(roots)
    for part in location:
        holders = [model.model_fields[part] for model in models if part in model.model_fields]
        models = [inner for field in holders for inner in _models_in(field.annotation)] or models
    return list(dict.fromkeys(key for model in models for key in model.model_fields))


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    """Yield the tables inside a type such as ``list[LoadCase] | None``."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models_in(inner)
