"""Entries of the files of a campaign, each with the place it was written at."""

from __future__ import annotations

from dataclasses import dataclass
from fnmatch import fnmatchcase
from typing import TYPE_CHECKING, Any

from correlate.channel import quantity_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.toml import KeyPath, Place, TomlSource


@dataclass(frozen=True, slots=True)
class Origin:
    """A key of one of the files."""

    file: TomlSource
    key: KeyPath

    def at(self, *inside: str | int) -> Origin:
        """Return a key inside it."""
        return Origin(self.file, (*self.key, *inside))

    @property
    def place(self) -> Place:
        """Where people find it."""
        return self.file.place(self.key)


@dataclass(frozen=True, slots=True)
class Entry:
    """One table of an array: a channel, a default, an override or a layout."""

    values: dict[str, Any]
    origin: Origin

    def text(self, key: str) -> str:
        """Return a text of it; empty where there is none."""
        value = self.values.get(key, "")
        return value if isinstance(value, str) else ""

    @property
    def name(self) -> str:
        """Code, name or pattern under ``test``."""
        return self.text("test")

    @property
    def quantity(self) -> str:
        """Physical quantity of a channel: what is written, or what the code says."""
        return self.text("quantity") or quantity_of(self.name)


def entries(table: Any, key: str, origin: Origin) -> Iterator[Entry]:
    """Yield the entries of an array of tables; what is none is left to validation."""
    found = table.get(key) if isinstance(table, dict) else None
    for index, values in enumerate(found if isinstance(found, list) else ()):
        if isinstance(values, dict):
            yield Entry(values, origin.at(key, index))


def texts(table: dict[str, Any], key: str) -> Iterator[tuple[int, str]]:
    """Yield the texts of a list and their numbers."""
    found = table.get(key)
    for index, text in enumerate(found if isinstance(found, list) else ()):
        if isinstance(text, str):
            yield index, text


def fits(name: str, pattern: str) -> bool:
    """Say whether a name is meant by a name or a pattern of ``*`` and ``?``.

    Examples
    --------
    >>> fits("D0HEAD0000KMACXP", "??HEAD*AC*"), fits("force [kN]", "force [kN]"), fits("a", "[ab]")
    (True, True, False)
    """
    return name == pattern or fnmatchcase(name, pattern.replace("[", "[[]"))
