"""What is usual for a channel by its code: region, filter class and polarity, from the ready-made book."""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

from correlate.channel import quantity_of
from correlate.evaluation.book.entries import Entry, Origin, entries, fits
from correlate.evaluation.book.files import READY_MADE_FOLDER
from correlate.toml import parse_toml

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator

USUAL: Final = READY_MADE_FOLDER / "usual.toml"
"""The one place of usual regions, filter classes and polarities."""

CHOOSING: Final = ("test", "quantity")
"""Keys of a default that say for which channels it is."""


def usual_settings(test: str) -> dict[str, Any]:
    """Return the settings that are usual for a channel.

    Parameters
    ----------
    test
        Channel code; nothing is usual for any other name.

    Returns
    -------
    dict
        Such as ``region``, ``cfc`` and ``polarity``, without what nobody knows.

    Examples
    --------
    >>> usual_settings("D0FEMRLE00KMFOZP")["cfc"]
    600
    """
    return dict(_usual_of(test))


@lru_cache(maxsize=4096)
def _usual_of(test: str) -> dict[str, Any]:
    """Return what is usual for a channel, the same object every time: many load cases have the channel."""
    found: dict[str, Any] = {}
    for default in defaults_for(test, quantity_of(test), _usual()):
        found |= {key: value for key, value in default.values.items() if key not in CHOOSING}
    return found


def defaults_for(name: str, quantity: str, defaults: Iterable[Entry]) -> Iterator[Entry]:
    """Yield the defaults that hold for a channel of a name and a physical quantity."""
    for default in defaults:
        wanted = default.text("quantity")
        if (
            (default.name or wanted)
            and (not default.name or fits(name, default.name))
            and (not wanted or wanted == quantity)
        ):
            yield default


@lru_cache(maxsize=1)
def _usual() -> tuple[Entry, ...]:
    file = parse_toml(USUAL, kind="a book of usual settings")
    return tuple(entries(file.content, "default", Origin(file, ())))
