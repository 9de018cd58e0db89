"""The minimum data of a rated pair from which the numbers of a release are computed."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Protocol

if TYPE_CHECKING:
    from collections.abc import Mapping


class Rated(Protocol):
    """A rated pair, or the ceiling of a channel in the place of one.

    Attributes
    ----------
    release, load_case, channel, repeat
        Names.
    overall
        In [0, 1].
    ingredients
        With ``corridor`` and its ``reference_peak``, and ``also`` where other measures were taken.
    """

    @property
    def release(self) -> str:
        """Release name."""

    @property
    def load_case(self) -> str:
        """Name of the load case."""

    @property
    def channel(self) -> str:
        """Name of the channel."""

    @property
    def repeat(self) -> str:
        """Name of the repeat."""

    @property
    def overall(self) -> float:
        """Rating in [0, 1]."""

    @property
    def ingredients(self) -> Mapping[str, Any]:
        """Raw values behind the scores."""
