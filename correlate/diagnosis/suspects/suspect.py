"""The result of a search for data-handling errors: evidence, and the rating after correction."""

from __future__ import annotations

from dataclasses import dataclass, field
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final, Literal, get_args

from correlate.display import short_repr

if TYPE_CHECKING:
    from collections.abc import Mapping

Kind = Literal[
    "sign turned",
    "unit wrong",
    "other axis",
    "other filter class",
    "time zero off",
    "filtered twice",
    "not filtered",
    "interval cuts the main pulse",
    "offset window overlaps the event",
    "local frame turned",
]
KINDS: Final[tuple[Kind, ...]] = get_args(Kind)
"""Every kind of suspect."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Suspect:
    """A mistake in the book-keeping that would explain a poor rating better than a poor model does.

    Attributes
    ----------
    kind
        What it is.
    channel
        Of the reference.
    evidence
        One sentence with numbers.
    fix
        What to write in the campaign file, or to do.
    rating_before
        Of the pair as it is; None where the two signals cannot be rated as they are.
    rating_after
        Of the pair with the change.
    change
        The change for programs: fields of ``Recipe`` where there is one, units in the names.
    weight
        By which suspects are ordered, largest first; a number for ordering, no probability.
    """

    kind: Kind
    channel: str
    evidence: str
    fix: str
    rating_before: float | None
    rating_after: float
    change: Mapping[str, Any] = field(default_factory=dict)
    weight: float = 0.0

    def __post_init__(self) -> None:
        """Freeze the change."""
        object.__setattr__(self, "change", MappingProxyType(dict(self.change)))

    def __reduce__(self) -> tuple[Any, ...]:
        """Pickle through plain values, because a mapping proxy cannot be pickled."""
        names = ("kind", "channel", "evidence", "fix", "rating_before", "rating_after", "weight")
        return _suspect, ({name: getattr(self, name) for name in names} | {"change": dict(self.change)},)


def _suspect(values: dict[str, Any]) -> Suspect:
    return Suspect(**values)
