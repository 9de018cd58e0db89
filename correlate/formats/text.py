"""Text as bytes: encodings, lines, and a last line that was cut off."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from correlate.errors import FormatError
from correlate.plain_files import open_plain

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path


_CONTROL_BYTES: Final = bytes(set(range(32)) - {9, 10, 12, 13} | {127})


def decoded(data: bytes) -> str:
    """Return the text of bytes in UTF-8, with or without byte order mark, or else in ISO 8859-1."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def encoded(text: str) -> bytes:
    """Return a text in ISO 8859-1 where `decoded` gives it back unchanged, else in UTF-8."""
    try:
        plain = text.encode("latin-1")
    except UnicodeEncodeError:
        return text.encode("utf-8")
    return plain if decoded(plain) == text else text.encode("utf-8")


def shortened(text: str, longest: int = 40) -> str:
    """Return a text on one line that is short enough to quote."""
    printable = "".join(mark if mark.isprintable() else "·" for mark in text.strip())
    return printable if len(printable) <= longest else printable[:longest] + "…"


def text_lines(text: str) -> list[str]:
    r"""Return the lines of a text, which end at a line feed with or without a carriage return.

    Other characters that may end a line in Unicode are kept: they are letters' parts in other encodings.

    Examples
    --------
    >>> text_lines("Title : a\r\nType : b\n")
    ['Title : a', 'Type : b']
    """
    lines = [line.removesuffix("\r") for line in text.split("\n")]
    return lines[:-1] if not lines[-1] else lines


def looks_like_text(data: bytes) -> bool:
    """Say whether the first bytes of a file can be text: not empty and without control characters."""
    return bool(data) and len(data.translate(None, _CONTROL_BYTES)) == len(data)


LEAST_OTHERS: Final = 3
"""With fewer numbers above it nothing says how long the last one should be."""
LOOKED_AT: Final = 2**16
"""Bytes at the end of a file that are looked at."""

_NUMBER: Final = re.compile(r"[+-]?\d*(?:[.,](\d*))?(?:[eEdD]([+-]?\d+))?")


def refuse_cut_file(path: Path, *, separator: str | None) -> None:
    """Refuse a text file that ends inside a number.

    Notes
    -----
    The cell lacks part where it is shorter than every other one that was looked at, or where those all have
    one number of decimals and one form of exponent and it has less. A number of ordinary length that was cut
    to another number of ordinary length cannot be told; files that state their number of samples, or end with
    a line break, are safe. Derived here.
    """
    with open_plain(path) as file:
        size = file.seek(0, 2)
        file.seek(max(0, size - LOOKED_AT))
        tail = file.read()
        if tail.endswith(b"\n"):
            return
        file.seek(0)
        lines = 1 + sum(piece.count(b"\n") for piece in iter(lambda: file.read(2**20), b""))
    refuse_cut_end(tail, separator=separator, file=str(path), last_line=lines)


def refuse_cut_end(tail: bytes, *, separator: str | None, file: str, last_line: int) -> None:
    """Refuse text that ends inside a number."""
    *above, last = tail.decode("utf-8", errors="replace").split("\n")
    cells = _cells(last, separator)
    if not cells:
        return
    rows = (_cells(line.rstrip("\r"), separator) for line in above)
    others = [row[-1] for row in rows if len(row) == len(cells) and _NUMBER.fullmatch(row[-1])]
    if _lacks_part(cells[-1], others):
        raise FormatError(
            f"the file ends without a line break in the number '{shortened(cells[-1])}', which is shorter "
            f"than those above it, such as '{shortened(others[-1])}': it may have been cut off",
            where=f"{file}, line {last_line}, column {len(cells)}",
            remedy="copy or export the file again; if the number is whole, end the line with a line break",
        )


def _cells(line: str, separator: str | None) -> list[str]:
    """Return the cells of a line; a line that ends in a blank ends its last cell too."""
    if separator is None:
        return [] if line.endswith((" ", "\t")) else line.split()
    return [cell.strip() for cell in line.split(separator)]


def _lacks_part(last: str, others: Sequence[str]) -> bool:
    if len(others) < LEAST_OTHERS or not _NUMBER.fullmatch(last):
        return False
    if len(last.lstrip("+-")) < min(len(other.lstrip("+-")) for other in others):
        return True
    forms = {_form(other) for other in others}
    decimals, exponent = _form(last)
    return len(forms) == 1 and any((decimals < most[0] or exponent < most[1]) for most in forms)


def _form(number: str) -> tuple[int, int]:
    """Return how many decimals a number has, and how many characters its exponent."""
    found = _NUMBER.fullmatch(number)
    decimals, exponent = found.groups() if found else ("", "")
    return len(decimals or ""), len(exponent or "")
