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
from typing import TYPE_CHECKING, Annotated, Any, Final, Generic, TypeVar, get_args

from pydantic import BaseModel, ConfigDict, Field, ValidationError

from correlate.display import short_text
from correlate.errors import CorrelateError, FormatError

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping
    from pathlib import Path

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
    try:
        raw = path.read_bytes()
        text = raw.decode("utf-8-sig")
        content = tomllib.loads(text)
    except OSError as error:
        raise FormatError(
            f"cannot be read ({error.strerror})", where=str(path), remedy=f"name {kind}"
        ) from error
    except (tomllib.TOMLDecodeError, UnicodeDecodeError) as error:
        raise FormatError(
            f"is not valid TOML: {error}", where=str(path), remedy="correct the line"
        ) from error
    try:
        table = root.model_validate(content)
    except ValidationError as error:
        found = mistakes(error, text=text, root=root)
        count = "1 mistake" if len(found) == 1 else f"{len(found)} mistakes"
        raise FormatError(f"{count}: " + "; ".join(found), where=str(path)) from error
    return TomlFile(path, table, hashlib.sha256(raw).hexdigest())


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
_STRING: Final = re.compile(r'"""|\'\'\'|"(?:\\.|[^"\\])*"|\'[^\']*\'|#.*')


def key_lines(text: str) -> dict[KeyPath, int]:
    r"""Map each table and key to the line it stands on.

    Examples
    --------
    >>> key_lines("[a]\nb = 1\n[[c]]\nd = 2\n[[c]]\nd = 3")[("c", 1, "d")]
    6
    """
    lines: dict[KeyPath, int] = {}
    counts: dict[KeyPath, int] = {}
    table: KeyPath = ()
    depth = 0
    closing = ""
    for number, line in enumerate(text.splitlines(), start=1):
        if not closing and depth == 0:
            header = _HEADER.match(line)
            if header:
                table = _open(_parts(header[2]), counts, is_array=header[1] == "[[")
                lines.setdefault(table, number)
                continue
            key = _KEY.match(line)
            if key:
                lines.setdefault((*table, *_parts(key[1])), number)
        depth, closing = _after(line, depth, closing)
    return lines


def line_of(path: KeyPath, lines: dict[KeyPath, int]) -> int | None:
    """Return the line of a key, or of the nearest table around it."""
    for size in range(len(path), 0, -1):
        if path[:size] in lines:
            return lines[path[:size]]
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


def _after(line: str, depth: int, closing: str) -> tuple[int, str]:
    """Return how many brackets are open after a line, and which long string."""
    position = 0
    while position < len(line):
        if closing:
            end = line.find(closing, position)
            if end < 0:
                return depth, closing
            position, closing = end + 3, ""
            continue
        match = _STRING.search(line, position)
        plain = line[position : match.start() if match else len(line)]
        depth += plain.count("[") + plain.count("{") - plain.count("]") - plain.count("}")
        if match is None or match[0].startswith("#"):
            break
        if match[0] in {'"""', "'''"}:
            closing = match[0]
        position = match.end()
    return max(depth, 0), closing


def mistakes(error: ValidationError, *, text: str, root: type[BaseModel]) -> list[str]:
    """Put the mistakes that validation found into sentences, in the order of the file."""
    lines = key_lines(text)
    found = [(line_of(item["loc"], lines), item) for item in error.errors()]
    found.sort(key=lambda pair: pair[0] or 0)
    return [_sentence(line, item, root) for line, item in found]


def _sentence(line: int | None, item: ErrorDetails, root: type[BaseModel]) -> str:
    place = f"line {line}, " if line else ""
    key = ".".join(str(part) for part in item["loc"] if isinstance(part, str)) or "the whole file"
    return f"{place}{key}: {_words(item, root)}"


def _words(item: ErrorDetails, root: type[BaseModel]) -> str:
    kind, location = item["type"], item["loc"]
    if kind == "extra_forbidden":
        known = _keys_at(root, location[:-1])
        close = difflib.get_close_matches(str(location[-1]), known, n=1, cutoff=0.5)
        meant = f"; did you mean '{close[0]}'?" if close else f"; known are {', '.join(known)}"
        return f"there is no such key{meant}"
    if kind == "missing":
        return "this key is missing"
    message = str(item["msg"]).removeprefix("Value error, ")
    return message[:1].lower() + message[1:]


def _keys_at(root: type[BaseModel], location: tuple[str | int, ...]) -> list[str]:
    """Return the keys of the table at a place of the file."""
    model = root
    for part in location:
        if isinstance(part, str) and part in model.model_fields:
            model = next(_models_in(model.model_fields[part].annotation), model)
    return list(model.model_fields)


def _models_in(annotation: Any) -> Iterator[type[BaseModel]]:
    """Yield the tables inside a type such as ``list[LoadCase] | None``."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        yield annotation
    for inner in get_args(annotation):
        yield from _models_in(inner)
