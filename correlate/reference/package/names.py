"""Which paths are allowed in a bag."""

from __future__ import annotations

import re
from typing import Final

from correlate.errors import FormatError

LONGEST_NAME: Final = 1024
"""Most characters of a path within a bag."""
_DRIVE: Final = re.compile(r"[A-Za-z]:")


def check_names(names: list[str], label: str) -> None:
    """Refuse paths that lead elsewhere, that some system cannot write, or that only differ in capitals.

    Parameters
    ----------
    names
        Paths within a bag.
    label
        The bag, for messages.

    Raises
    ------
    FormatError
        One of them is not allowed.

    Examples
    --------
    >>> check_names(["data/tests/KM01/KM01.mme"], "bag")
    """
    folded: dict[str, str] = {}
    for name in names:
        reason = _reason_against(name)
        if reason:
            raise FormatError(
                f"the name {name[:80]!r} {reason}",
                where=label,
                remedy="do not use this package; ask for it again",
            )
        other = folded.setdefault(name.casefold(), name)
        if other != name:
            raise FormatError(
                f"'{other}' and '{name}' differ only in case",
                where=label,
                remedy="rename one of them: some systems treat them as one file",
            )


def _reason_against(name: str) -> str:
    if not name or len(name) > LONGEST_NAME:
        return "is empty or too long"
    if name.startswith("/") or _DRIVE.match(name):
        return "is an absolute path"
    if "\\" in name or not name.isprintable():
        return "holds a backslash or a control character"
    parts = name.split("/")
    if any(part in {"", ".", ".."} for part in parts):
        return "leads elsewhere"
    if any(part.endswith((" ", ".")) or set(part) & set(':*?"<>|') for part in parts):
        return "cannot be written on every system"
    return ""
