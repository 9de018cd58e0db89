"""File names in a package: allowed on every system, and different from each other on every system."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from correlate.errors import FormatError
from correlate.spelling import one_spelling

if TYPE_CHECKING:
    from collections.abc import Iterator

LONGEST_NAME: Final = 1024
"""Most characters of a path within a bag."""
_DRIVE: Final = re.compile(r"[A-Za-z]:")
_RESERVED: Final = re.compile(r"(?:con|prn|aux|nul|conin\$|conout\$|(?:com|lpt)[0-9¹²³])", re.IGNORECASE)
"""Device names of Windows with any ending (Microsoft, "Naming Files, Paths, and Namespaces"; from memory)."""


def check_names(names: list[str], label: str) -> None:
    """Refuse paths that lead elsewhere, are not allowed on some system, or are the same file on some system.

    Examples
    --------
    >>> check_names(["data/tests/KM01/KM01.mme"], "bag")
    """
    spellings: dict[str, str] = {}
    for name in names:
        if reason := _reason_against(name):
            raise FormatError(
                f"the name {name[:80]!r} {reason}",
                where=label,
                remedy="do not use this package; ask for it again",
            )
        for path in _paths_to(name):
            other = spellings.setdefault(one_spelling(path), path)
            if other != path:
                raise FormatError(
                    f"'{other}' and '{path}' differ only in case or in their Unicode form",
                    where=label,
                    remedy="rename one of them, because some systems treat them as one file",
                )
    _refuse_file_and_folder(names, label)


def _refuse_file_and_folder(names: list[str], label: str) -> None:
    folders = {path for name in names for path in _paths_to(name) if path != name}
    for name in names:
        if name in folders:
            raise FormatError(
                f"'{name}' is both a file and a folder",
                where=label,
                remedy="do not use this package; ask for it again",
            )


def _paths_to(name: str) -> Iterator[str]:
    """Yield every folder on the way to a file, then the file."""
    for place, sign in enumerate(name):
        if sign == "/":
            yield name[:place]
    yield name


def _reason_against(name: str) -> str:
    if not name or len(name) > LONGEST_NAME:
        return "is empty or too long"
    if name.startswith("/") or _DRIVE.match(name):
        return "is an absolute path"
    if "\\" in name or not name.isprintable():
        return "holds a backslash or a control character"
    reasons = map(_reason_against_part, name.split("/"))
    return next(filter(None, reasons), "")


def _reason_against_part(part: str) -> str:
    if part in {"", ".", ".."}:
        return "leads elsewhere"
    if part.endswith((" ", ".")) or set(part) & set(':*?"<>|'):
        return "is not allowed on every system"
    if _RESERVED.fullmatch(part.partition(".")[0].rstrip()):
        return "is reserved for a device on some systems"
    return ""
