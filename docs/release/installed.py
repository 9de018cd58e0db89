"""The libraries of an installation: names, versions, licences, and which needs which."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from importlib.metadata import Distribution, distribution
from pathlib import Path
from typing import TYPE_CHECKING, Final

from packaging.requirements import Requirement
from packaging.utils import canonicalize_name

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

ROOT: Final = Path(__file__).parents[2]
PROJECT: Final = "correlate"

SERVER: Final = ("all", "object-storage", "postgres")
"""Extras of the installation on a server."""

UNKNOWN: Final = "not stated"

_SHORT: Final = 60
"""Characters; what is longer is the text of a licence and not its name."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Library:
    """A library that is installed.

    Attributes
    ----------
    name
        As indexes of packages spell it, in lower case with hyphens.
    version
        That is installed.
    licence
        As its metadata state it.
    needed_by
        Names of the libraries that require it; the project itself where it is a direct dependency.
    """

    name: str
    version: str
    licence: str
    needed_by: tuple[str, ...]

    @property
    def is_direct(self) -> bool:
        """Whether the project itself requires it."""
        return PROJECT in self.needed_by


def libraries(extras: Iterable[str]) -> list[Library]:
    """Return what the project needs with some of its extras, itself not among it, by name.

    Raises
    ------
    importlib.metadata.PackageNotFoundError
        A library is not installed.
    """
    needed_by: dict[str, set[str]] = {}
    waiting: list[tuple[str, frozenset[str]]] = [(PROJECT, frozenset(extras))]
    seen: set[tuple[str, frozenset[str]]] = set()
    while waiting:
        entry = waiting.pop()
        if entry in seen:
            continue
        seen.add(entry)
        name, wanted = entry
        for requirement in _requirements(name, wanted):
            required = canonicalize_name(requirement.name)
            if required != PROJECT:
                needed_by.setdefault(required, set()).add(name)
            waiting.append((required, frozenset(requirement.extras)))
    found = ((name, distribution(name), users) for name, users in sorted(needed_by.items()))
    return [
        Library(
            name=name,
            version=installed.version,
            licence=licence_of(installed),
            needed_by=tuple(sorted(users)),
        )
        for name, installed, users in found
    ]


def _requirements(name: str, extras: frozenset[str]) -> Iterator[Requirement]:
    for requirement in map(Requirement, declared(name)):
        marker = requirement.marker
        if marker is None or any(marker.evaluate({"extra": extra}) for extra in ("", *extras)):
            yield requirement


def declared(name: str) -> list[str]:
    """Return the requirements of a library; those of the project as its settings file declares them now."""
    if name != PROJECT:
        return distribution(name).requires or []
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    optional = (
        f'{text}; extra == "{extra}"'
        for extra, texts in project["optional-dependencies"].items()
        for text in texts
    )
    return [*project["dependencies"], *optional]


def direct(extras: Iterable[str]) -> list[str]:
    """Return the names of the libraries that the project itself requires, whether installed or not."""
    wanted, seen, names = list(extras), set[str](), set[str]()
    while wanted:
        extra = wanted.pop()
        seen.add(extra)
        for requirement in _requirements(PROJECT, frozenset({extra})):
            if canonicalize_name(requirement.name) == PROJECT:
                wanted += requirement.extras - seen
            else:
                names.add(canonicalize_name(requirement.name))
    return sorted(names)


def extras_of_project() -> list[str]:
    """Return the names of all extras."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    return sorted(project["optional-dependencies"])


def licence_of(installed: Distribution) -> str:
    """Return the licence in the metadata of a library: an expression, classifiers, or a short text."""
    words = installed.metadata
    if "License-Expression" in words:
        return words["License-Expression"]
    classifiers = words.get_all("Classifier") or []
    named = [one.rpartition(" :: ")[2] for one in classifiers if one.startswith("License :: ")]
    if named := [one for one in named if one != "OSI Approved"]:
        return ", ".join(sorted(set(named)))
    text = words["License"].strip() if "License" in words else ""
    return text if 0 < len(text) <= _SHORT and "\n" not in text else UNKNOWN


_PIN: Final = re.compile(
    r"^(?P<name>[\w.-]+)(?:\[[^]]*\])?==(?P<version>[^\s;\\]+)(?:\s*;\s*(?P<marker>[^\\]+?))?\s*\\?$"
)
_HASH: Final = re.compile(r"--hash=sha256:(?P<digest>[0-9a-f]{64})")


@dataclass(frozen=True, slots=True, kw_only=True)
class Pin:
    """One library of the lock.

    Attributes
    ----------
    name, version
        Of the library.
    marker
        On which systems it is needed; empty where on all.
    hashes
        SHA-256 of the files that may be installed.
    """

    name: str
    version: str
    marker: str
    hashes: tuple[str, ...]


def pins(lock: Path) -> list[Pin]:
    """Read the lock of an installation."""
    found: list[Pin] = []
    hashes: list[str] = []
    for line in lock.read_text(encoding="utf-8").splitlines():
        if pin := _PIN.match(line):
            hashes = []
            found.append(
                Pin(
                    name=canonicalize_name(pin["name"]),
                    version=pin["version"],
                    marker=(pin["marker"] or "").strip(),
                    hashes=(),
                )
            )
        elif (digest := _HASH.search(line)) and found:
            hashes.append(digest["digest"])
            last = found[-1]
            found[-1] = Pin(name=last.name, version=last.version, marker=last.marker, hashes=tuple(hashes))
    return found
