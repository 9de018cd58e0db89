"""What the URL of the tuning page says."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from dashboard import ids
from dashboard.query import read_query

if TYPE_CHECKING:
    from dashboard.pages.page import Event

NAME: Final = "tuning"
"""Of the page, in its ids."""

KEYS: Final[tuple[str, ...]] = ("job", "outcome", "along", "ticked")
"""The job that is watched, the outcome and parameter that are shown, and the proposals that are ticked."""

PICKED: Final[dict[str, str]] = {
    "outcome": ids.TUNING_OUTCOME,
    "along": ids.TUNING_ALONG,
    "ticked": ids.TUNING_CHOSEN,
}
"""Key of the query that each field sets."""


def asked_for(event: Event) -> dict[str, str]:
    """Return what an event asks for, by key of the query.

    Parameters
    ----------
    event
        From the browser.

    Returns
    -------
    dict
    """
    asked = read_query(event.search, KEYS)
    if event.trigger in PICKED.values():
        asked |= {key: _text(event.picked[key]) for key in PICKED}
    return asked


def ticked_numbers(text: str) -> list[int]:
    """Return the proposals that an address ticks, counted from 0; what is no number is left out.

    Parameters
    ----------
    text
        As the address writes it, counted from 1.

    Returns
    -------
    list of int

    Examples
    --------
    >>> ticked_numbers("3,1,x,3")
    [0, 2]
    """
    numbers = {int(part) - 1 for part in text.split(",") if part.isascii() and part.isdigit()}
    return sorted(number for number in numbers if number >= 0)


def _text(value: Any) -> str:
    """Return a value of a field as the address writes it; proposals are counted from 1 there."""
    if isinstance(value, list):
        return ",".join(str(number + 1) for number in sorted(int(one) for one in value))
    return str(value or "")
