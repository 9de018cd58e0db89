"""The records of a run, read from the store on first access, because most commands need only results."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby
from operator import attrgetter
from typing import TYPE_CHECKING, overload

from correlate.errors import StoreError
from correlate.evaluation.record import PairRecord
from correlate.store.store import open_store

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.evaluation.evidence import CaseEvidence
    from correlate.store.store import Store


class StoredRecords(Sequence[PairRecord]):
    """Records of the rated pairs that evidence names, in its order; read on access.

    Parameters
    ----------
    address
        Address of the store.
    campaign
        Name of the campaign.
    evidence
        The evidence behind the ratings, as it was saved with them.
    """

    def __init__(self, address: str, campaign: str, evidence: Sequence[CaseEvidence]) -> None:
        self._address, self._campaign, self._evidence = address, campaign, evidence
        self._count = sum(len(channel.pairs) for one in evidence for channel in one.channels)
        self._read: list[PairRecord] | None = None

    def __len__(self) -> int:
        """Return the number of records; nothing is read."""
        return self._count

    @overload
    def __getitem__(self, place: int) -> PairRecord: ...
    @overload
    def __getitem__(self, place: slice) -> list[PairRecord]: ...
    def __getitem__(self, place: int | slice) -> PairRecord | list[PairRecord]:
        """Return one record, or some."""
        return self._records()[place]

    def __eq__(self, other: object) -> bool:
        """Compare with any sequence, record by record."""
        return isinstance(other, Sequence) and self._records() == list(other)

    __hash__ = None  # type: ignore[assignment]

    def __repr__(self) -> str:
        """Show the number of records; nothing is read."""
        return f"<{self._count} records>"

    def __iter__(self) -> Iterator[PairRecord]:
        """Yield the records; only those of one release are in memory, unless all were read before."""
        if self._read is not None:
            yield from self._read
            return
        with open_store(self._address) as store:
            for release, cases in groupby(self._evidence, key=attrgetter("release")):
                yield from self._of_release(store, release, list(cases))

    def _records(self) -> list[PairRecord]:
        if self._read is None:
            self._read = list(self)
        return self._read

    def _of_release(self, store: Store, release: str, cases: Sequence[CaseEvidence]) -> list[PairRecord]:
        """Read the records of a release; refuse if another run has replaced them meanwhile."""
        by_pair = {
            (one.load_case, one.channel, one.repeat): one
            for one in store.ratings(campaign=self._campaign, release=release)
        }
        states = {one.load_case: one.state for one in store.evidence(self._campaign, release=release)}
        pairs = [
            (one.load_case, channel.channel, repeat)
            for one in cases
            for channel in one.channels
            for repeat in channel.pairs
        ]
        changed = any(states.get(one.load_case) != one.state for one in cases)
        if changed or not by_pair.keys() >= set(pairs):
            raise StoreError(
                "another program rated the same releases again meanwhile",
                where=self._campaign,
                remedy="run the command again",
            )
        return [by_pair[pair] for pair in pairs]
