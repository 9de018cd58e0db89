"""The kit: curves and expected numbers as plain files, and the list of their hashes."""

from __future__ import annotations

import hashlib
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Annotated, Any, Final, NoReturn

from pydantic import ConfigDict, Field

from correlate.display import short_repr
from correlate.errors import FormatError
from correlate.files import opened
from correlate.toml import Table, read_toml

KIT: Final = Path(__file__).with_name("kit")
"""The kit of this installation."""
CHECKS_FILE: Final = "kit.toml"
HASH_FILE: Final = "SHA256SUMS"
"""Hash and name of every other file, as the usual programs for checksums write and read them."""
_HASH_LINE: Final = re.compile(r"([0-9a-f]{64})  (\S.*)")

Text = Annotated[str, Field(min_length=1)]


class _Table(Table):
    model_config = ConfigDict(allow_inf_nan=False)


class ExpectedValue(_Table):
    """An expected number.

    Attributes
    ----------
    quantity, unit
        Of the number.
    expected
        The number.
    tolerance
        Largest permitted difference, in the unit.
    """

    quantity: Text
    expected: float
    tolerance: Annotated[float, Field(ge=0)]
    unit: Text


class ExpectedCurve(_Table):
    """An expected curve.

    Attributes
    ----------
    quantity, unit
        Of the curve.
    column
        Where it is in the file of the check.
    tolerance
        Largest permitted difference at any sample, in the unit.
    """

    quantity: Text
    column: Text
    tolerance: Annotated[float, Field(ge=0)]
    unit: Text


class KitCheck(_Table):
    """One function, one file of curves, and the expected results.

    Attributes
    ----------
    function
        What is computed.
    name
        What is special about the curves.
    file
        Of the curves.
    source
        Where formula, constants and expected numbers come from.
    settings
        What the function needs besides the curves.
    values, curves
        Expected results.
    """

    function: Text
    name: Text
    file: Text
    source: Text
    settings: dict[str, Any] = Field(default_factory=dict)
    values: tuple[ExpectedValue, ...] = ()
    curves: tuple[ExpectedCurve, ...] = ()


class _KitFile(_Table):
    title: Text
    check: Annotated[tuple[KitCheck, ...], Field(min_length=1)]


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Kit:
    """A kit whose files are as listed.

    Attributes
    ----------
    folder
        Where it is.
    title
        Its own.
    checks
        In the order of the file.
    sha256
        Of the list of hashes, and so of everything.
    """

    folder: Path
    title: str
    checks: tuple[KitCheck, ...]
    sha256: str


def read_kit(folder: str | Path = KIT) -> Kit:
    """Read a kit, and refuse it if a file is missing, added or changed.

    Parameters
    ----------
    folder
        With ``kit.toml``, the curves and ``SHA256SUMS``; that of this installation when left out.

    Returns
    -------
    Kit

    Raises
    ------
    FormatError
        A file is missing, not listed, changed, or not of the form that the README of the kit describes.
    """
    path = Path(folder)
    sha256 = _verified(path)
    content = read_toml(path / CHECKS_FILE, _KitFile, kind="the checks of a kit").table
    return Kit(folder=path, title=content.title, checks=content.check, sha256=sha256)


def _verified(folder: Path) -> str:
    """Compare every file with the list, and return the hash of the list."""
    with opened(folder / HASH_FILE) as stream:
        raw = stream.read()
    listed = _listed(raw, folder / HASH_FILE)
    there = {one.name for one in folder.iterdir()} - {HASH_FILE}
    for name in sorted(listed.keys() - there):
        _refuse(folder / name, "the file is listed in SHA256SUMS and missing")
    for name in sorted(there - listed.keys()):
        _refuse(folder / name, "the file is not listed in SHA256SUMS")
    if CHECKS_FILE not in listed:
        _refuse(folder / CHECKS_FILE, "the kit has no such file")
    for name, expected in listed.items():
        with opened(folder / name) as stream:
            found = hashlib.sha256(stream.read()).hexdigest()
        if found != expected:
            _refuse(folder / name, "the file is not the one listed in SHA256SUMS")
    return hashlib.sha256(raw).hexdigest()


def _listed(raw: bytes, where: Path) -> dict[str, str]:
    lines = raw.decode("utf-8", "replace").splitlines()
    found = {}
    for number, line in enumerate(lines, start=1):
        match = _HASH_LINE.fullmatch(line)
        if match is None or Path(match[2]).name != match[2]:
            _refuse(where, f"line {number} is not a SHA-256, two spaces and the name of a file")
        found[match[2]] = match[1]
    return found


def _refuse(where: Path, what: str) -> NoReturn:
    raise FormatError(
        what,
        where=str(where),
        remedy="install correlate again; for a kit of your own, write the list again with sha256sum",
    )
