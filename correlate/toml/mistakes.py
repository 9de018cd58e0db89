"""Every mistake of a file, each with line, key and, for a misspelt key, what was meant."""

from __future__ import annotations

import difflib
from typing import TYPE_CHECKING, Any, get_args

from pydantic import BaseModel

from correlate.toml.lines import key_lines, line_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pydantic import ValidationError
    from pydantic_core import ErrorDetails


def mistakes(error: ValidationError, *, text: str, root: type[BaseModel]) -> list[str]:
    """Put the mistakes that validation found into sentences, in the order of the file.

    Parameters
    ----------
    error
        From validating the parsed file.
    text
        The file, for its lines.
    root
        The table that was validated, for its keys.

    Returns
    -------
    list of str
        For instance ``line 12, load_case.channel.cfc: …``.
    """
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
