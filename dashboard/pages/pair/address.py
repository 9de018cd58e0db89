"""What the URL of the pair page says beyond the pair itself; nothing is looked up."""

from __future__ import annotations

import math
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final
from urllib.parse import parse_qsl, urlencode

from correlate import CorrelateError, CurveChange
from dashboard.selection import Address, number_text

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence


CORRIDORS: Final = "corridors"
SPREAD: Final = "repeats"
LINKS: Final = "links"
PARTS: Final[dict[str, str]] = {CORRIDORS: "Corridors", SPREAD: "All repeats", LINKS: "Warping links"}
"""What can be drawn beside the curves, in words."""

USUAL_PARTS: Final = (CORRIDORS, SPREAD)
"""Drawn unless the address says otherwise."""

NO_PARTS: Final = "none"
"""How the address writes that nothing is drawn beside the curves."""

CHANGES: Final[dict[str, str]] = {"shift_ms": "shift", "scale": "scale", "offset": "offset"}
"""Key of the address for each change of the curve."""

WINDOW: Final[dict[str, str]] = {"left_ms": "left", "right_ms": "right"}
"""Key of the address for each end of the time that is looked at."""

_LARGEST: Final = 1e9
"""Of a change or a time in ms; beyond it, drawn values overflow."""

_PLAIN: Final[dict[str, float]] = {"shift_ms": 0.0, "scale": 1.0, "offset": 0.0}


@dataclass(frozen=True, slots=True, kw_only=True)
class PairAddress:
    """The state of the page. Texts are as in the URL; an empty one stands for what is usual.

    Attributes
    ----------
    pair
        Which pair, and how it is conditioned.
    against
        Name of the release that all pages compare with; drawn over the first.
    others
        Names of further releases.
    parts
        What is drawn beside the curves, of `PARTS`.
    shift_ms, scale, offset
        Change of the model's curve.
    left_ms, right_ms
        The time that is looked at.
    """

    pair: Address = field(default_factory=Address)
    against: str = ""
    others: tuple[str, ...] = ()
    parts: tuple[str, ...] = USUAL_PARTS
    shift_ms: str = ""
    scale: str = ""
    offset: str = ""
    left_ms: str = ""
    right_ms: str = ""

    @classmethod
    def from_search(cls, search: str | None) -> PairAddress:
        """Read the query of a URL; keys it does not know are left alone.

        Examples
        --------
        >>> found = PairAddress.from_search("?release=A1&over=A2&over=A3&show=none&shift=-1.5")
        >>> found.pair.release, found.others, found.parts, found.shift_ms
        ('A1', ('A2', 'A3'), (), '-1.5')
        """
        given = parse_qsl((search or "").removeprefix("?"))
        last = dict(given)
        shown = [text for key, text in given if key == "show"]
        return cls(
            pair=Address.from_search(search),
            against=last.get("against", ""),
            others=tuple(dict.fromkeys(text for key, text in given if key == "over")),
            parts=tuple(part for part in PARTS if part in shown) if shown else USUAL_PARTS,
            **{name: last.get(key, "") for name, key in (CHANGES | WINDOW).items()},
        )

    def as_search(self) -> str:
        """Return the query that leads back here.

        Examples
        --------
        >>> PairAddress(pair=Address(release="A1"), others=("A2",), scale="1.1").as_search()
        '?release=A1&over=A2&scale=1.1'
        """
        query = self.pair.as_search()
        keys = [("against", self.against)] if self.against else []
        keys += [("over", name) for name in self.others]
        if self.parts != USUAL_PARTS:
            keys += [("show", part) for part in self.parts or (NO_PARTS,)]
        keys += [
            (key, getattr(self, name)) for name, key in (CHANGES | WINDOW).items() if getattr(self, name)
        ]
        if not keys:
            return query
        return f"{query}{'&' if len(query) > 1 else ''}{urlencode(keys)}"

    @property
    def overlays(self) -> tuple[str, ...]:
        """The releases that are drawn over the first, each once."""
        wanted = dict.fromkeys((self.against, *self.others))
        return tuple(name for name in wanted if name and name != self.pair.release)

    @property
    def plain(self) -> PairAddress:
        """The same releases and channel, as in the campaign, unchanged and as a whole."""
        pair = replace(self.pair, cfc="", start_ms="", end_ms="")
        return PairAddress(pair=pair, against=self.against, others=self.others, parts=self.parts)

    def overlaid(self, names: Sequence[str]) -> PairAddress:
        """Return the address with other releases over the first, which is not drawn over itself."""
        wanted = [name for name in names if name != self.pair.release]
        kept = self.against if self.against in wanted else ""
        return replace(self, against=kept, others=tuple(name for name in wanted if name != kept))

    @property
    def change(self) -> CurveChange:
        """Change of the model's curve."""
        found = {name: self._number(name, CHANGES[name], plain) for name, plain in _PLAIN.items()}
        return CurveChange(shift_s=found["shift_ms"] / 1e3, scale=found["scale"], offset=found["offset"])

    @property
    def window_s(self) -> tuple[float, float] | None:
        """The time that is looked at, s; None for all of it."""
        if not (self.left_ms and self.right_ms):
            return None
        left_s, right_s = (self._number(name, key, 0.0) / 1e3 for name, key in WINDOW.items())
        if not left_s < right_s:
            raise CorrelateError(
                f"the figure cannot show {self.left_ms} ms to {self.right_ms} ms",
                where="'left' and 'right' in the address",
                remedy="give a start and a later end, or leave both out",
            )
        return left_s, right_s

    def changed(self, values: Mapping[str, float | None]) -> PairAddress:
        """Return the address with another change of the curve."""
        given = {name: value for name, value in values.items() if value is not None}
        texts = {name: "" if value == _PLAIN[name] else number_text(value) for name, value in given.items()}
        return replace(
            self,
            shift_ms=texts.get("shift_ms", self.shift_ms),
            scale=texts.get("scale", self.scale),
            offset=texts.get("offset", self.offset),
        )

    def looking_at(self, window_ms: Sequence[float] | None) -> PairAddress:
        """Return the address with another time that is looked at."""
        left, right = (f"{end:.5g}" for end in window_ms) if window_ms else ("", "")
        return replace(self, left_ms=left, right_ms=right)

    def _number(self, name: str, key: str, plain: float) -> float:
        text = getattr(self, name)
        try:
            value = float(text) if text else plain
        except ValueError:
            value = math.nan
        if not abs(value) <= _LARGEST:
            raise CorrelateError(
                f"'{text}' is not a valid number",
                where=f"'{key}' in the address",
                remedy="correct it, or omit it for the unchanged curve",
            )
        return value
