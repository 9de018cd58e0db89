"""Words for those who cannot see a part of a page."""

from __future__ import annotations

from typing import Any, Final

DECORATION: Final[dict[str, Any]] = {"aria-hidden": "true"}
"""Attributes of a part that says nothing that is not said beside it."""


def labelled(words: str) -> dict[str, Any]:
    """Return the attributes that name a part of a page.

    Parameters
    ----------
    words
        What a screen reader says.

    Returns
    -------
    dict

    Examples
    --------
    >>> labelled("Rating")
    {'aria-label': 'Rating'}
    """
    return {"aria-label": words}
