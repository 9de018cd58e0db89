"""Names that look alike: one spelling to compare by, and names that cannot be read reliably.

Unicode writes one name in several ways: `Ａ3` with a wide letter, ``é`` in one sign or two, with signs of no
width between. They are compared after compatibility normalisation and case folding (NFKC, Unicode Standard
Annex 15; from memory). That leaves letters of other scripts that look like Latin ones, as the Cyrillic ``А``;
the frequent ones are listed here. Not covered: rarer look-alikes within a script (``l`` and ``1``, ``rn`` and
``m``), and scripts other than Cyrillic and Greek.
"""

from __future__ import annotations

import re
import unicodedata
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Iterable

_CYRILLIC: Final = dict(zip("авекмнорстухіјѕԁһԛԝ", "abekmhopctyxijsdhqw", strict=True))
_GREEK: Final = dict(zip("αβεζηικμνορτυχ", "abezhikmnoptyx", strict=True))
_LATIN_LOOK: Final = str.maketrans(_CYRILLIC | _GREEK)
"""The Latin letter that a letter looks like in upper or lower case, by its lower case."""

_SELECTORS: Final = re.compile("[\ufe00-\ufe0f\U000e0100-\U000e01ef]")
"""Characters that select a variant of the one before."""


def one_spelling(name: str) -> str:
    """Return the same text for names that differ in case, Unicode form or invisible characters.

    Parameters
    ----------
    name
        As it was typed or read.

    Returns
    -------
    str
        For comparison only, not for display.

    Examples
    --------
    >>> one_spelling("Ａ3") == one_spelling("a3") == one_spelling("A\u200b3")
    True
    """
    folded = unicodedata.normalize("NFKC", unicodedata.normalize("NFKC", name).casefold())
    return " ".join("".join(sign for sign in folded if not _is_unseen(sign)).split())


def look_of(name: str) -> str:
    """Return the same text for names that look alike: as `one_spelling`, with frequent look-alike letters.

    Examples
    --------
    >>> look_of("А3") == look_of("A3")  # the first begins with a Cyrillic letter
    True
    """
    return one_spelling(name).translate(_LATIN_LOOK)


def is_taken(name: str, names: Iterable[str]) -> bool:
    """Say whether a name looks like one that is there.

    Examples
    --------
    >>> is_taken("a1", ["A1", "A2"])
    True
    """
    look = look_of(name)
    return any(look_of(one) == look for one in names)


def unclear(name: str) -> str:
    """Return why a name cannot be read reliably, as a clause about it; empty if it can.

    Examples
    --------
    >>> unclear("A\u202e3")
    'holds U+202E, which is invisible'
    >>> unclear("Саb-3")
    'mixes Latin and Cyrillic letters in one word (U+0421 U+0430 U+0062)'
    """
    for sign in name:
        if _is_unseen(sign):
            return f"holds {code_points(sign)}, which is invisible"
    for word in re.findall(r"[^\W\d_]+", unicodedata.normalize("NFKC", name)):
        scripts = {script for sign in word if (script := _script(sign))}
        for other in ("Cyrillic", "Greek"):
            if {"Latin", other} <= scripts:
                return f"mixes Latin and {other} letters in one word ({code_points(word[:8])})"
    return ""


def code_points(text: str) -> str:
    """Return the signs of a text by number.

    Examples
    --------
    >>> code_points("A3")
    'U+0041 U+0033'
    """
    return " ".join(f"U+{ord(sign):04X}" for sign in text)


def alike(names: Iterable[str]) -> tuple[str, str] | None:
    """Return the first two different names that look alike; None where there are none.

    Examples
    --------
    >>> alike(["A1", "A2", "а1"])
    ('A1', 'а1')
    """
    seen: dict[str, str] = {}
    for name in names:
        other = seen.setdefault(look_of(name), name)
        if other != name:
            return other, name
    return None


def _is_unseen(sign: str) -> bool:
    return unicodedata.category(sign) in {"Cf", "Cc", "Zl", "Zp", "Cs"} or bool(_SELECTORS.match(sign))


def _script(sign: str) -> str:
    """Return the script of a letter where it can be taken for one of another; Greek symbols are no such."""
    first = unicodedata.name(sign, "").partition(" ")[0]
    if first == "GREEK":
        return "Greek" if sign == "ο" or (sign.isupper() and sign.lower() in _GREEK) else ""
    return {"LATIN": "Latin", "CYRILLIC": "Cyrillic"}.get(first, "")
