"""Text as bytes: encodings, lines, and whether bytes can be text."""

from __future__ import annotations

from typing import Final

_CONTROL_BYTES: Final = bytes(set(range(32)) - {9, 10, 12, 13} | {127})


def decoded(data: bytes) -> str:
    """Return the text of bytes in UTF-8, with or without byte order mark, or else in ISO 8859-1.

    Parameters
    ----------
    data
        Any bytes.

    Returns
    -------
    str
    """
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return data.decode("latin-1")


def encoded(text: str) -> bytes:
    """Return a text in ISO 8859-1 where `decoded` gives it back unchanged, else in UTF-8.

    Parameters
    ----------
    text
        Any text.

    Returns
    -------
    bytes
    """
    try:
        plain = text.encode("latin-1")
    except UnicodeEncodeError:
        return text.encode("utf-8")
    return plain if decoded(plain) == text else text.encode("utf-8")


def shortened(text: str, longest: int = 40) -> str:
    """Return a text on one line that is short enough to quote.

    Parameters
    ----------
    text
        Any text.
    longest
        Number of characters kept.

    Returns
    -------
    str
    """
    printable = "".join(mark if mark.isprintable() else "·" for mark in text.strip())
    return printable if len(printable) <= longest else printable[:longest] + "…"


def text_lines(text: str) -> list[str]:
    r"""Return the lines of a text, which end at a line feed with or without a carriage return.

    Other characters that may end a line in Unicode are kept: they are letters' parts in other encodings.

    Parameters
    ----------
    text
        Any text.

    Returns
    -------
    list of str
        Without line ends; a line feed at the very end starts no further line.

    Examples
    --------
    >>> text_lines("Title : a\r\nType : b\n")
    ['Title : a', 'Type : b']
    """
    lines = [line.removesuffix("\r") for line in text.split("\n")]
    return lines[:-1] if not lines[-1] else lines


def looks_like_text(data: bytes) -> bool:
    """Say whether the first bytes of a file can be text: not empty and without control characters.

    Parameters
    ----------
    data
        The first bytes.

    Returns
    -------
    bool
    """
    return bool(data) and len(data.translate(None, _CONTROL_BYTES)) == len(data)
