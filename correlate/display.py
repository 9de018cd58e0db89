"""What an object shows of itself in an interpreter or notebook: a short text, a data frame."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import fields, is_dataclass
from pathlib import PurePath
from typing import TYPE_CHECKING, Any, Final, Protocol, TypeVar

from correlate.extras import MissingExtraError

if TYPE_CHECKING:
    from collections.abc import Callable, Hashable, Iterable

    from pandas import DataFrame

LONGEST: Final = 360
"""Most characters of the fields in a short text; with the name of the class it stays under 500."""
_TEXT: Final = 60
"""Most characters of one value that are shown."""
_DIGITS: Final = 8
"""Numbers with more characters are rounded to six digits."""
_FEW: Final = 4
"""Sequences up to this length are written out when they hold single values."""

Class = TypeVar("Class", bound=type)
Item = TypeVar("Item")
Key = TypeVar("Key")


def short_repr(cls: Class) -> Class:
    """Give a class of results a short ``repr``; stands above ``@dataclass``."""
    cls.__repr__ = short_text  # type: ignore[assignment, unused-ignore]
    return cls


Entry = TypeVar("Entry")


def grouped(entries: Iterable[Entry], key: Callable[[Entry], Hashable]) -> list[list[Entry]]:
    """Return entries that have something in common together, in the order in which each kind came first.

    Examples
    --------
    >>> grouped(["spike", "gain", "span"], lambda word: word[0])
    [['spike', 'span'], ['gain']]
    """
    groups: dict[Hashable, list[Entry]] = {}
    for entry in entries:
        groups.setdefault(key(entry), []).append(entry)
    return list(groups.values())


class Reasoned(Protocol):
    """Something that is missing for a reason; the cause is what others that are missing share with it."""

    @property
    def reason(self) -> str:
        """One sentence, with the place."""

    @property
    def cause(self) -> str:
        """The sentence without the place; empty where it is not known."""


def common_reason(group: Sequence[Reasoned]) -> str:
    """Return the reason of things that are missing for one cause: the whole sentence where it is one."""
    reasons = {one.reason for one in group}
    return group[0].reason if len(reasons) == 1 else group[0].cause


def short_text(result: object) -> str:
    """Return class and fields of a result in one line, long values by their kind and size."""
    shown: list[str] = []
    room = LONGEST
    for name in _names(result):
        text = f"{name}={brief(getattr(result, name))}"
        room -= len(text) + 2
        if room < 0:
            shown.append("…")
            break
        shown.append(text)
    return f"{type(result).__name__}({', '.join(shown)})"


def brief(value: object) -> str:
    """Return a value in a few characters.

    Examples
    --------
    >>> brief(0.123456789), brief((1, 2)), brief(list(range(100))), brief({"a": 1})
    ('0.123457', '(1, 2)', '<100 values>', "<1 entry: 'a'>")
    """
    if isinstance(value, PurePath):
        value = str(value)
    if value is None or isinstance(value, str | bytes | int | float):
        return _single(value)
    if isinstance(value, Mapping):
        return _mapping(value)
    if isinstance(value, Sequence | set | frozenset):
        return _sequence(list(value), value)
    return _other(value)


def _single(value: str | bytes | float | None) -> str:
    text = repr(value)
    if isinstance(value, float) and len(text) > _DIGITS:
        text = f"{value:.6g}"
    return text if len(text) <= _TEXT else f"{text[: _TEXT - 2]}…{text[-1]}"


def _other(value: Any) -> str:
    shape = getattr(value, "shape", None)
    if isinstance(shape, tuple) and shape:
        return f"<array {' × '.join(map(str, shape))}>"
    if is_dataclass(value) or hasattr(value, "model_fields_set"):
        return f"{type(value).__name__}(…)"
    text = repr(value)
    return text if len(text) <= _TEXT else f"<{type(value).__name__}>"


def _names(result: Any) -> list[str]:
    if is_dataclass(result):
        return [field.name for field in fields(result) if field.repr]
    return list(type(result).model_fields)


def _mapping(value: Mapping[Any, Any]) -> str:
    if not value:
        return "{}"
    names = ", ".join(repr(key) for key in list(value)[:_FEW])
    dots = ", …" if len(value) > _FEW else ""
    text = f"<{len(value)} entr{'y' if len(value) == 1 else 'ies'}: {names}{dots}>"
    return text if len(text) <= _TEXT else f"<{len(value)} entries>"


def _sequence(items: list[Any], value: object) -> str:
    simple = all(item is None or isinstance(item, str | int | float) for item in items)
    if len(items) <= _FEW and simple:
        written = ", ".join(brief(item) for item in items)
        comma = "," if len(items) == 1 else ""
        text = f"({written}{comma})" if isinstance(value, tuple) else f"[{written}]"
        if len(text) <= _TEXT:
            return text
    return f"<{len(items)} value{'' if len(items) == 1 else 's'}>"


class Results(list[Item]):
    """A list of results that is short to look at and becomes a data frame.

    Examples
    --------
    >>> Results(["a", "b"])
    Results(<2 of str>)
    """

    def __repr__(self) -> str:
        """Say how many of what."""
        return f"{type(self).__name__}({_count(self)})"

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row a result."""
        return frame(row(item) for item in self)


class FixedResults(tuple[Item, ...]):
    """Results that never change, short to look at; they become a data frame too.

    Examples
    --------
    >>> FixedResults(("a", "b"))
    FixedResults(<2 of str>)
    """

    __slots__ = ()

    def __repr__(self) -> str:
        """Say how many of what."""
        return f"{type(self).__name__}({_count(self)})"

    def to_frame(self) -> DataFrame:
        """Return a data frame, one row a result."""
        return frame(row(item) for item in self)


class NamedResults(dict[Key, Item]):
    """A table of results by name that is short to look at.

    Examples
    --------
    >>> NamedResults(a=1)
    NamedResults(<1 of int>)
    """

    def __repr__(self) -> str:
        """Say how many of what."""
        return f"{type(self).__name__}({_count(list(self.values()))})"


def _count(items: Sequence[Any]) -> str:
    return f"<{len(items)} of {type(items[0]).__name__}>" if items else ""


def row(result: object) -> dict[str, object]:
    """Return a result as the cells of one row: what it says itself, else its single values."""
    own = getattr(result, "as_row", None)
    if own is not None:
        cells: dict[str, object] = own()
        return cells
    return {
        name: value
        for name in _names(result)
        if (value := getattr(result, name)) is None or isinstance(value, str | int | float)
    }


def frame(data: Iterable[Mapping[str, object]] | Mapping[str, Any], *, index: Any = None) -> DataFrame:
    """Return a pandas data frame."""
    try:
        from pandas import DataFrame as Frame  # noqa: PLC0415 - half a second, and not part of any extra
    except ModuleNotFoundError:
        raise MissingExtraError("a data frame needs the library pandas: pip install pandas") from None
    return Frame(data if isinstance(data, Mapping) else list(data), index=index)
