"""Rows of the store as records, and who ran what when."""

from __future__ import annotations

import getpass
import hashlib
import json
import math
import os
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import TYPE_CHECKING, Any, Final

from correlate.display import short_repr
from correlate.errors import StoreError
from correlate.evaluation.record import PairRecord
from correlate.store.packing import hash_bytes
from correlate.store.tables import ENTRIES, INPUTS, NAMES, RATINGS, SCORES, SETTINGS, bound
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

    from sqlalchemy import RowMapping, Table

    from correlate.store.tables import Bound


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class RunInfo:
    """One run of the program over a campaign. Equal ones are the same run.

    Attributes
    ----------
    who
        Person, account or build that started it.
    started
        When; with a time zone.
    version
        Of the program.
    campaign_sha256
        Of the bytes of the campaign file; empty when there was none.

    Raises
    ------
    StoreError
        Nobody is named, or the moment has no time zone.
    """

    who: str
    started: datetime
    version: str = VERSION
    campaign_sha256: str = ""

    def __post_init__(self) -> None:
        """Check what a table could not."""
        if not self.who.strip():
            raise StoreError("the run has no user name", where="run", remedy="give the name of the user")
        if self.started.utcoffset() is None:
            raise StoreError(
                f"the moment {self.started.isoformat()} has no time zone",
                where="run",
                remedy="give it one, for instance datetime.now(UTC)",
            )

    @classmethod
    def now(cls, *, who: str = "", campaign_sha256: str = "") -> RunInfo:
        """Return a run that starts at this moment.

        Parameters
        ----------
        who
            The account this program runs under, when left out.
        campaign_sha256
            Of the bytes of the campaign file.
        """
        return cls(who=who or account_name(), started=datetime.now(UTC), campaign_sha256=campaign_sha256)


def account_name() -> str:
    """Return the account that this program runs under."""
    try:
        return getpass.getuser()
    except (KeyError, OSError):
        # A container may run under a number that no account has.
        return f"account {os.getuid()}" if hasattr(os, "getuid") else "account unknown"


Row = dict[str, Any]

_SIDES: Final = {"reference", "candidate"}
_JSON: Final = json.JSONEncoder(sort_keys=True, separators=(",", ":"))
_WORDS: Final = (*NAMES, "key", "grade", "version")


@dataclass(slots=True)
class ChunkRows:
    """Rows of a few records as the database holds them, each row once; see `tables.bound`.

    Attributes
    ----------
    settings, inputs
        By hash.
    ratings
        By key.
    entries
        By the names of the pair, without a run; of two records of one pair the later counts.
    """

    settings: dict[bytes, Bound] = field(default_factory=dict)
    inputs: dict[bytes, Bound] = field(default_factory=dict)
    ratings: dict[bytes, Bound] = field(default_factory=dict)
    entries: dict[tuple[str, ...], Bound] = field(default_factory=dict)

    @classmethod
    def of(cls, records: Iterable[PairRecord]) -> ChunkRows:
        """Check records and make their rows."""
        rows = cls()
        for record in records:
            try:
                rows._add(record)
            except (TypeError, ValueError) as error:
                raise StoreError(
                    f"the rating cannot be saved ({error})",
                    where=_pair(record),
                    remedy="rate the pair again; if that does not help, report the problem",
                ) from error
        return rows

    def add(self, other: ChunkRows) -> None:
        """Take over the rows of others."""
        for name in self.__slots__:
            getattr(self, name).update(getattr(other, name))

    def _add(self, record: PairRecord) -> None:
        names = {word: _storable_text(word, getattr(record, word)) for word in _WORDS}
        if record.inputs.keys() != _SIDES:
            raise ValueError(f"inputs are {sorted(record.inputs)} instead of candidate and reference")
        rating = {
            **{name: names[name] for name in ("key", "grade", "version")},
            **{name: _score(name, getattr(record, name)) for name in SCORES},
            "shift_s": _finite("shift_s", record.shift_s),
            "samples": int(record.samples),
            "settings_hash": _keep_once(self.settings, SETTINGS, record.settings),
            "ingredients": _canonical(record.ingredients),
        }
        self.ratings[hash_bytes(record.key)] = bound(RATINGS, rating)
        pair = {name: names[name] for name in NAMES}
        entry = {
            **pair,
            "run_id": None,
            "rating_key": record.key,
            "reference_hash": _keep_once(self.inputs, INPUTS, record.inputs["reference"]),
            "candidate_hash": _keep_once(self.inputs, INPUTS, record.inputs["candidate"]),
        }
        self.entries[tuple(pair.values())] = bound(ENTRIES, entry)


def record_of(row: RowMapping, settings: Mapping[str, Any], inputs: Mapping[str, Any]) -> PairRecord:
    """Return the record of a joined row of entries and ratings."""
    plain = {name: row[name] for name in (*_WORDS, *SCORES, "shift_s", "samples") if name != "key"}
    return PairRecord(
        key=row["rating_key"],
        inputs={"reference": inputs[row["reference_hash"]], "candidate": inputs[row["candidate_hash"]]},
        settings=settings[row["settings_hash"]],
        ingredients=json.loads(row["ingredients"]),
        **plain,
    )


def storable(text: str) -> bool:
    r"""Tell whether every database can keep a text: no zero character, no half of a surrogate pair.

    Examples
    --------
    >>> storable("Δ chest"), storable("a\0b")
    (True, False)
    """
    try:
        return b"\0" not in text.encode()
    except UnicodeEncodeError:
        return False


def _keep_once(rows: dict[bytes, Bound], table: Table, content: Any) -> str:
    text = _canonical(content)
    name = hashlib.sha256(text.encode()).hexdigest()
    key = hash_bytes(name)
    if key not in rows:
        rows[key] = bound(table, {"hash": name, "content": text})
    return name


def _canonical(content: Any) -> str:
    return _JSON.encode(content)


def _storable_text(name: str, value: str) -> str:
    if not storable(value):
        raise ValueError(f"{name} is {value!a}, which is not text that can be stored")
    return value


def _score(name: str, value: float) -> float:
    if not 0.0 <= value <= 1.0:
        raise ValueError(f"{name} is {value}, outside 0 to 1")
    return float(value)


def _finite(name: str, value: float) -> float:
    if not math.isfinite(value):
        raise ValueError(f"{name} is {value}")
    return float(value)


def _pair(record: PairRecord) -> str:
    return ascii(" / ".join(str(getattr(record, name)) for name in NAMES)).strip("'")
