"""A warning that stands beside a rating: what it is, one sentence, and the figures behind it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any, Literal

from correlate.display import short_repr

if TYPE_CHECKING:
    from collections.abc import Mapping

FlagName = Literal[
    "phase not identifiable",
    "candidate dead",
    "interval mostly quiet",
    "step not 0.1 ms",
    "no single event",
    "offset window overlaps the event",
]


@short_repr
@dataclass(frozen=True, slots=True)
class Flag:
    """One warning.

    Attributes
    ----------
    name
        Which.
    sentence
        What was found, for people.
    figures
        Behind it, units in the names.
    """

    name: FlagName
    sentence: str
    figures: Mapping[str, float] = field(default_factory=dict)

    def as_plain(self) -> dict[str, Any]:
        """Return the flag as plain values, for JSON and the store."""
        return {"name": self.name, "sentence": self.sentence, "figures": dict(self.figures)}
