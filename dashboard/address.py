"""What the URL says: which pair, and what differs from the campaign; nothing is looked up."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final
from urllib.parse import parse_qsl, urlencode

NO_FILTER: Final = "none"
"""How the URL and the menus write that nothing is filtered."""

_KEYS: Final[dict[str, str]] = {
    "release": "release",
    "case": "case",
    "repeat": "repeat",
    "channel": "channel",
    "cfc": "cfc",
    "start_ms": "from",
    "end_ms": "to",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class Address:
    """The state of the page. An empty text stands for the first entry, or for what the campaign says.

    Attributes
    ----------
    release, case, repeat
        Names.
    channel
        Name of the channel in the test.
    cfc
        Channel frequency class, or ``none``.
    start_ms, end_ms
        Interval of evaluation, in ms.
    """

    release: str = ""
    case: str = ""
    repeat: str = ""
    channel: str = ""
    cfc: str = ""
    start_ms: str = ""
    end_ms: str = ""

    @classmethod
    def from_search(cls, search: str | None) -> Address:
        """Read the query of a URL; keys it does not know are left alone.

        Parameters
        ----------
        search
            From the question mark on.

        Returns
        -------
        Address

        Examples
        --------
        >>> Address.from_search("?release=A1&from=5").start_ms
        '5'
        """
        given = dict(parse_qsl((search or "").removeprefix("?")))
        return cls(**{name: given.get(key, "") for name, key in _KEYS.items()})

    def as_search(self) -> str:
        """Return the query that leads back here.

        Returns
        -------
        str

        Examples
        --------
        >>> Address(release="A1", case="head-drop", end_ms="20").as_search()
        '?release=A1&case=head-drop&to=20'
        """
        given = {key: getattr(self, name) for name, key in _KEYS.items()}
        return "?" + urlencode({key: text for key, text in given.items() if text})
