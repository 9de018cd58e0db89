"""Writes the page of file keys from the tables of the files: ``python -m docs.building.file_keys``."""

from __future__ import annotations

import re
from datetime import date
from importlib import import_module
from pathlib import Path
from types import NoneType, UnionType
from typing import TYPE_CHECKING, Annotated, Any, Literal, Union, get_args, get_origin

from numpydoc.docscrape import NumpyDocString
from pydantic import BaseModel
from pydantic_core import PydanticUndefined

if TYPE_CHECKING:
    from collections.abc import Iterator

    from pydantic.fields import FieldInfo

Form = type[BaseModel]
WORDS = {str: "text", int: "whole number", float: "number", bool: "true or false", date: "date"}


def named(path: str) -> Any:
    """Return what a dotted path names, as ``correlate.evaluation.tables.CampaignTable``."""
    module, _, name = path.rpartition(".")
    return getattr(import_module(module), name)


def tables_of(root: Form, head: str = "") -> Iterator[tuple[str, Form]]:
    """Walk through the tables of a file.

    Parameters
    ----------
    root
        Form of the file.
    head
        Keys before it.

    Yields
    ------
    tuple of str and type
        Head as written in the file, ``[[load_case.channel]]``; empty for keys before any table. And the form.
    """
    yield head, root
    inside = head.strip("[]") + "." if head else ""
    for key, field in root.model_fields.items():
        many = get_origin(field.annotation) in {list, tuple}
        for form in forms_in(field.annotation):
            name = f"{inside}{key}"
            yield from tables_of(form, f"[[{name}]]" if many else f"[{name}]")


def forms_in(annotation: Any) -> list[Form]:
    """Return the forms of tables inside an annotation."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return [annotation]
    return [form for part in get_args(annotation) for form in forms_in(part)]


def described(form: Form) -> dict[str, str]:
    """Return what the docstring of a form, or of the class it refers to, says of each key.

    Parameters
    ----------
    form
        Of a table.

    Returns
    -------
    dict
        Key to words.
    """
    found: dict[str, str] = {}
    for source in (*form.__mro__, *_referred(form)):
        docstring = NumpyDocString(source.__doc__ or "")
        for entry in (*docstring["Attributes"], *docstring["Parameters"]):
            for key in entry.name.split(","):
                found.setdefault(key.strip(), " ".join(entry.desc).strip())
    return found


def _referred(form: Form) -> list[type]:
    names = re.findall(r"[Ss]ee (?::\w+:)?`([\w.]+)`", form.__doc__ or "")
    home = import_module(form.__module__)
    return [named(name) if "." in name else getattr(home, name) for name in names]


def kind(annotation: Any) -> str:
    """Say in words what a value may be.

    Parameters
    ----------
    annotation
        Of a field.

    Returns
    -------
    str
    """
    origin, parts = get_origin(annotation), get_args(annotation)
    if origin is Annotated:
        return kind(parts[0])
    if origin is Literal:
        return " or ".join(f"“{part}”" if isinstance(part, str) else str(part) for part in parts)
    if origin in {Union, UnionType}:
        return " or ".join(dict.fromkeys(kind(part) for part in parts if part is not NoneType))
    return _several(origin, parts) if origin else WORDS[annotation]


def _several(origin: Any, parts: tuple[Any, ...]) -> str:
    if origin is dict:
        return f"table of {kind(parts[1])}"
    fixed = origin is tuple and Ellipsis not in parts
    return f"list of {len(parts)}: {kind(parts[0])}" if fixed else f"list of {kind(parts[0])}"


def default(field: FieldInfo) -> str:
    """Say what holds when a key is left out."""
    if field.is_required():
        return "needed"
    value = field.get_default(call_default_factory=True)
    if value in (None, "", (), [], {}) or value is PydanticUndefined:
        return "none"
    if isinstance(value, BaseModel):
        return "its defaults"
    if isinstance(value, bool):
        return str(value).lower()
    return str(list(value)) if isinstance(value, tuple) else str(value)


def keys_of(form: Form) -> list[tuple[str, str, str, str]]:
    """Return the keys of a table: name, kind, what holds when left out, meaning; not the tables inside it.

    Raises
    ------
    LookupError
        The docstring of the form does not describe a key.
    """
    words = described(form)
    fields = form.model_fields.items()
    # A key that is a word of Python has another name in the code.
    keys = [(field.alias or key, field) for key, field in fields if not forms_in(field.annotation)]
    for key, _ in keys:
        if not words.get(key):
            raise LookupError(f"{form.__module__}.{form.__name__} does not describe '{key}'")
    return [(key, kind(field.annotation), default(field), words[key]) for key, field in keys]


def markdown(root: Form) -> str:
    """Return the tables of keys of a file as Markdown that can be read as it is.

    Parameters
    ----------
    root
        Form of the file.

    Returns
    -------
    str
    """
    parts: list[str] = []
    for head, form in tables_of(root):
        if head:
            parts.append(f"**`{head}`**")
        if keys := keys_of(form):
            parts.append("\n".join([_HEADING, *map(_row, keys)]))
    return "\n\n".join(parts)


_HEADING = "| key | value | left out | meaning |\n| --- | --- | --- | --- |"


def _row(cells: tuple[str, str, str, str]) -> str:
    key, *others = cells
    # Text between double backquotes is a literal in the docstrings.
    return (
        " | ".join([f"| `{key}`", *(re.sub("`+", "`", cell.replace("|", "\\|")) for cell in others)]) + " |"
    )


PAGE = Path(__file__).parents[1] / "reference" / "file-keys.md"
_BLOCK = re.compile(r"(<!-- keys of (\S+) -->\n).*?(\n<!-- end of keys -->)", re.DOTALL)


def written(page: str) -> str:
    """Return the page with the tables of keys as they are in the code today; all other text stays."""
    return _BLOCK.sub(lambda found: f"{found[1]}\n{markdown(named(found[2]))}\n{found[3]}", page)


if __name__ == "__main__":
    PAGE.write_text(written(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
