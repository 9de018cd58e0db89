"""The query of a URL as names and texts."""

from __future__ import annotations

from typing import TYPE_CHECKING
from urllib.parse import parse_qsl, urlencode

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping


def read_query(search: str | None, keys: Iterable[str]) -> dict[str, str]:
    """Return what a query says of some keys; others are left alone.

    Parameters
    ----------
    search
        From the question mark on.
    keys
        Wanted.

    Returns
    -------
    dict
        A text for each key, empty where the query does not have it.

    Examples
    --------
    >>> read_query("?release=A3&utm=mail", ["release", "against"])
    {'release': 'A3', 'against': ''}
    """
    given = dict(parse_qsl((search or "").removeprefix("?")))
    return {key: given.get(key, "") for key in keys}


def write_query(values: Mapping[str, str]) -> str:
    """Return the query that says what is not empty.

    Parameters
    ----------
    values
        Text by key.

    Returns
    -------
    str

    Examples
    --------
    >>> write_query({"release": "A3", "against": ""})
    '?release=A3'
    """
    return "?" + urlencode({key: text for key, text in values.items() if text})
