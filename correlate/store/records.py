"""The records of a run, read from the store on first access, because most commands need only results."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from itertools import groupby
from operator import attrgetter
from typing import TYPE_CHECKING, overload

from correlate.errors import StoreError
from correlate.evaluation.record import PairRecord
from correlate.store.store import open_store

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from correlate.evaluation.evidence import CaseEvidence
    from correlate.store.aggregates import NumberPair
    from correlate.store.store import Store


Place = tuple[str, str, str]
"""Load case, channel and repeat of a pair of a release."""


def places_of_evidence(evidence: Sequence[CaseEvidence]) -> Iterator[tuple[str, list[Place]]]:
    """Yield each release with the rated pairs that the evidence names, in the order of the evidence."""
    for release, cases in groupby(evidence, key=attrgetter("release")):
        yield (
            release,
            [
                (one.load_case, channel.channel, repeat)
                for one in cases
                for channel in one.channels
                for repeat in channel.pairs
            ],
        )


def places_of_pairs(pairs: Sequence[NumberPair]) -> Iterator[tuple[str, list[Place]]]:
    """Yield each release with its pairs; those of one release must be consecutive."""
    for release, own in groupby(pairs, key=attrgetter("release")):
        yield release, [(one.load_case, one.channel, one.repeat) for one in own]


class StoredRecords(Sequence[PairRecord]):
    """Records of rated pairs; read on access.

    Parameters
    ----------
    address
        Address of the store.
    campaign
        Name of the campaign.
    evidence
        The evidence behind the ratings, as it was saved with them.
    places
        Returns the pairs by release, in the order of the records. Default: the pairs that the evidence names.
    """

    def __init__(
        self,
        address: str,
        campaign: str,
        evidence: Sequence[CaseEvidence],
        places: Callable[[], Iterator[tuple[str, list[Place]]]] | None = None,
    ) -> None:
        self._address, self._campaign = address, campaign
        self._places = places or partial(places_of_evidence, evidence)
        self._states: dict[str, dict[str, str]] = {}
        for one in evidence:
            self._states.setdefault(one.release, {})[one.load_case] = one.state
        self._count = sum(len(found) for _, found in self._places())
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
            for release, places in self._places():
                yield from self._of_release(store, release, places)

    def _records(self) -> list[PairRecord]:
        if self._read is None:
            self._read = list(self)
        return self._read

    def _of_release(self, store: Store, release: str, places: Sequence[Place]) -> list[PairRecord]:
        """Read the records of a release; refuse if another run has replaced them meanwhile."""
        by_place = {
            (one.load_case, one.channel, one.repeat): one
            for one in store.ratings(campaign=self._campaign, release=release)
        }
        now = {one.load_case: one.state for one in store.evidence(self._campaign, release=release)}
        if not (now.items() >= self._states.get(release, {}).items() and by_place.keys() >= set(places)):
            raise StoreError(
                "another program rated the same releases again meanwhile",
                where=self._campaign,
                remedy="run the command again",
            )
        return [by_place[place] for place in places]
