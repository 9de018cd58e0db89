"""The chain of the audit trail: each entry contains a hash of itself and of the entry before.

Whoever changes or removes an entry must compute all later hashes again, which an earlier export shows.
The form of what is hashed is part of saved trails and never changes.
"""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

BEGINNING: Final = "0" * 64
"""In place of the hash of an entry before the first."""

HASHED: Final = ("id", "moment", "who", "what", "about", "address")
"""Columns that an entry's hash covers, beside the hash of the entry before."""

CHAINED_LATER: Final = "added the hashes of the lines before, which were written without"
"""What the entry says was done that follows those that had no hash before."""


def entry_hash(entry: Mapping[str, Any], previous: str) -> str:
    """Return the hash of an entry.

    Parameters
    ----------
    entry
        With the keys of `HASHED`; others are ignored.
    previous
        Hash of the entry before.

    Returns
    -------
    str
        SHA-256, in hexadecimal digits, of the entry as a JSON object with sorted keys, no spaces and ASCII
        characters only.
    """
    hashed = {name: entry[name] for name in HASHED} | {"previous": previous}
    return hashlib.sha256(canonical(hashed).encode("ascii")).hexdigest()


def canonical(values: Mapping[str, Any]) -> str:
    """Return values as JSON in the one form that is hashed and exported.

    Examples
    --------
    >>> canonical({"who": "lab", "id": 1})
    '{"id":1,"who":"lab"}'
    """
    return json.dumps(values, sort_keys=True, separators=(",", ":"), ensure_ascii=True)


@dataclass(frozen=True, slots=True, kw_only=True)
class ChainState:
    """What a check of the chain found.

    Attributes
    ----------
    entries
        That were checked, up to the first that does not fit.
    first, since
        Number and moment of the first of them; 0 and empty where there is none.
    chained_later
        Entries that had no hash when they were written; an upgrade of the program added it.
    head
        Hash of the last entry that fits.
    broken_at
        Number of the first entry that does not fit; None where all do.
    """

    entries: int
    first: int
    since: str
    chained_later: int
    head: str
    broken_at: int | None

    @property
    def words(self) -> str:
        """Say it in a sentence."""
        if self.broken_at is not None:
            why = "it was changed, or lines before it were removed or inserted"
            return f"broken at line {self.broken_at}: {why}"
        if not self.entries:
            return "no lines"
        count = "1 line" if self.entries == 1 else f"{self.entries} lines"
        said = f"{count}, unbroken since {self.since[:10]}"
        if not self.chained_later:
            return said
        return f"{said}; the hashes of the first {self.chained_later} were added later, by an upgrade"


def check_chain(rows: Iterable[Mapping[str, Any]], *, previous: str = BEGINNING) -> ChainState:
    """Compare the hashes of entries with their contents.

    Parameters
    ----------
    rows
        In the order of their numbers, with the keys of `HASHED` and ``hash``.
    previous
        Hash of the entry before the first.
    """
    entries, first, since, chained_later, broken_at = 0, 0, "", 0, None
    for row in rows:
        if entry_hash(row, previous) != row["hash"]:
            broken_at = row["id"]
            break
        if row["what"] == CHAINED_LATER:
            chained_later = entries
        if not entries:
            first, since = row["id"], row["moment"]
        previous, entries = row["hash"], entries + 1
    return ChainState(
        entries=entries,
        first=first,
        since=since,
        chained_later=chained_later,
        head=previous,
        broken_at=broken_at,
    )
