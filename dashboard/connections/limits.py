"""Limits of connections and of what is received on them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable

HEADER_BYTES: Final = 65_536
"""Most that the header of a request may have."""

MEMORY_BYTES: Final = 65_536
"""Of one body in memory; what is above goes to a temporary file."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ConnectionLimits:
    """How many connections there may be, and how slow one may be.

    Attributes
    ----------
    total
        Connections at a time. At the limit, the one that has waited longest without a request is closed.
    per_address
        Of them from one address.
    exempt
        Addresses that are not counted: of proxies, which forward requests of many users.
    header_s
        Longest time from the first byte of a request to the end of its header, and from the connection to
        the first byte.
    idle_s
        Longest time between two requests.
    grace_s
        Time over which the rate of a body, or of the receipt of an answer, is averaged.
    least_rate
        Least rate of both, in bytes per second.
    """

    total: int = 500
    per_address: int = 100
    exempt: frozenset[str] = frozenset()
    header_s: float = 15
    idle_s: float = 75
    grace_s: float = 15
    least_rate: float = 2000


@dataclass(frozen=True, slots=True, kw_only=True)
class Reception:
    """How large a body may be, decided by the header of the request alone.

    Attributes
    ----------
    known
        Says whether the cookies of a request look like a session. Called by the thread that serves all
        connections: it must not wait for anything.
    unknown_bytes
        Most of the body of a request without a session.
    most_bytes
        Most of a body by path, with a session.
    largest
        Largest body of any request.
    chunked
        Most of a body that does not state its length; browsers send none.
    """

    known: Callable[[str], bool]
    unknown_bytes: int
    most_bytes: Callable[[str], int]
    largest: int
    chunked: int
