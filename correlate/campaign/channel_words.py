"""What the name of a channel says: place, level, side, kind of quantity, axis."""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from correlate.channel import MAIN_LOCATIONS, ChannelCode, is_channel_code

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

_PIECE: Final = re.compile(r"[A-Z]+(?![a-z])|[A-Z]?[a-zäöüß]+|[a-zäöüß]+|\d+")
_NUMBERED: Final = re.compile(r"(?<![A-Za-z])([TtCcLl])[ _-]?(\d{1,2})(?!\d)")
"""A vertebra: one letter and its number belong together."""
TURNED: Final = {
    "acceleration": "angular acceleration",
    "velocity": "angular velocity",
    "displacement": "angle",
    "": "angle",
}
"""What turning makes of a kind of quantity."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Meaning:
    """What a name says; an empty text or set where it says nothing.

    Attributes
    ----------
    places
        Body parts.
    level, side, kind, axis
        As in the table of words; empty too where it says two things.
    rest
        Words that are in no table.
    """

    places: frozenset[str] = frozenset()
    level: str = ""
    side: str = ""
    kind: str = ""
    axis: str = ""
    rest: frozenset[str] = frozenset()


@lru_cache(maxsize=4096)
def meaning(*texts: str) -> Meaning:
    """Return what names and descriptions of one channel say together.

    Examples
    --------
    >>> said = meaning("HeadAccX"), meaning("D0HEAD0000KMACXP")
    >>> [(sorted(one.places), one.kind, one.axis) for one in said]
    [(['head'], 'acceleration', 'x'), (['head'], 'acceleration', 'x')]
    >>> said = meaning("neck_up my")
    >>> sorted(said.places), said.level, said.kind, said.axis
    (['neck'], 'upper', 'moment', 'y')
    """
    words = [word for text in texts for word in _words(_spelt_out(text))]
    table = _table()
    kinds = _found(words, "kind") or {table["letter"][word] for word in words if word in table["letter"]}
    turning = any(word in table["turning"]["words"] for word in words)
    kind = _one(kinds)
    if turning and len(kinds) <= 1:
        kind = TURNED.get(kind, kind)
    return Meaning(
        places=frozenset(_found(words, "place")),
        level=_one(_found(words, "level")),
        side=_one(_found(words, "side")),
        kind=kind,
        axis=_one(_found(words, "axis")),
        rest=frozenset(word for word in words if word not in _known() and len(word) > 1),
    )


def _spelt_out(text: str) -> str:
    """Return a code in words where its location is in the table; a code of another kind says nothing."""
    if not is_channel_code(text):
        return text
    code = ChannelCode(text)
    return code.describe() if code.main_location in MAIN_LOCATIONS else ""


def _one(found: Iterable[str]) -> str:
    """Return the only one, or an empty text."""
    several = set(found)
    return several.pop() if len(several) == 1 else ""


def _found(words: Iterable[str], group: str) -> set[str]:
    wanted = set(words)
    return {name for name, known in _table()[group].items() if wanted & set(known)}


@lru_cache(maxsize=1)
def _table() -> dict[str, dict[str, Any]]:
    return tomllib.loads(Path(__file__).with_suffix(".toml").read_text(encoding="utf-8"))


@lru_cache(maxsize=1)
def _known() -> frozenset[str]:
    """Return every word of the table."""
    groups = ("place", "level", "side", "kind", "axis")
    listed = {word for group in groups for known in _table()[group].values() for word in known}
    return frozenset(
        listed | set(_table()["letter"]) | set(_table()["turning"]["words"]) | set(_table()["idle"]["words"])
    )


def _words(text: str) -> Iterator[str]:
    """Yield the words of a name in small letters, glued ones taken apart where every part is known."""
    for match in _NUMBERED.finditer(text):
        yield (match[1] + match[2]).lower()
    for piece in _PIECE.findall(_NUMBERED.sub(" ", text)):
        word = piece.lower()
        yield from _parts(word) or [word]


@lru_cache(maxsize=4096)
def _parts(word: str) -> tuple[str, ...]:
    """Return a glued word as known words, the longest first; empty where something is left over."""
    if not word or word in _known():
        return (word,) if word else ()
    for length in range(len(word) - 1, 0, -1):
        if word[:length] in _known() and (length > 1 or len(word) == 2):
            rest = _parts(word[length:])
            if rest:
                return (word[:length], *rest)
    return ()
