"""The lists of a bag: which files with which hashes (RFC 8493)."""

from __future__ import annotations

import re
from typing import Final

from correlate.errors import FormatError

HASHES: Final = {"sha512": 128, "sha256": 64}
"""Hash functions a bag is trusted by, strongest first, and their length in hexadecimal digits."""
_LINE: Final = re.compile(r"([0-9a-f]+)(  ?)(\S.*)")
_ENCODED: Final = {"%0A": "\n", "%0a": "\n", "%0D": "\r", "%0d": "\r", "%25": "%"}


def parsed_manifest(data: bytes, *, name: str, label: str) -> dict[str, str]:
    """Read a manifest.

    Parameters
    ----------
    data
        Its bytes.
    name
        Its name, such as ``manifest-sha512.txt``.
    label
        The bag, for messages.

    Returns
    -------
    dict
        Hash in lower-case hexadecimal by path.

    Raises
    ------
    FormatError
        It is no UTF-8, a line is not of the form, or a path occurs twice.
    """
    algorithm = name.removeprefix("tag").removeprefix("manifest-").removesuffix(".txt")
    where = f"{label}, {name}"
    try:
        text = data.decode("utf-8")
    except UnicodeDecodeError:
        raise FormatError("the list is not UTF-8", where=where, remedy="ask for the package again") from None
    if text and not text.endswith("\n"):
        raise FormatError("the last line is cut off", where=where, remedy="ask for the package again")
    listed: dict[str, str] = {}
    for number, line in enumerate(text.split("\n")[:-1], start=1):
        match = _LINE.fullmatch(line.removesuffix("\r"))
        if not match or len(match[1]) != HASHES.get(algorithm, -1):
            raise FormatError(
                f"the line is not a {algorithm} hash in lower-case hexadecimal and a path",
                where=f"{where}, line {number}",
                remedy="ask for the package again",
            )
        path = re.sub("%0[AaDd]|%25", lambda found: _ENCODED[found[0]], match[3])
        if path in listed:
            raise FormatError(
                f"'{path}' is listed twice",
                where=f"{where}, line {number}",
                remedy="ask for the package again",
            )
        listed[path] = match[1]
    return listed


def parsed_tags(data: bytes, *, name: str, label: str) -> dict[str, list[str]]:
    """Read a file of ``Label: value`` lines, such as ``bag-info.txt``.

    Parameters
    ----------
    data
        Its bytes.
    name
        Its name.
    label
        The bag, for messages.

    Returns
    -------
    dict
        Values by label; a label may occur more than once.

    Raises
    ------
    FormatError
        It is no UTF-8 or a line has no colon.
    """
    where = f"{label}, {name}"
    try:
        lines = data.decode("utf-8-sig").splitlines()
    except UnicodeDecodeError:
        raise FormatError("the file is not UTF-8", where=where, remedy="ask for the package again") from None
    tags: dict[str, list[str]] = {}
    last = ""
    for number, line in enumerate(lines, start=1):
        if line[:1] in {" ", "\t"} and last:
            tags[last][-1] += " " + line.strip()
            continue
        key, colon, value = line.partition(":")
        if not colon or not key.strip():
            raise FormatError(
                "the line is not of the form 'label: value'",
                where=f"{where}, line {number}",
                remedy="ask for the package again",
            )
        last = key.strip()
        tags.setdefault(last, []).append(value.strip())
    return tags
