"""Saving ratings in two halves, of which the first is done where they were rated.

A worker inserts into a server itself, because a server serves many connections at once. Into a file one
program writes at a time, and only on the machine where it lies: there a worker makes the rows, and the
program that collects inserts them.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import chain
from typing import TYPE_CHECKING

from correlate.campaign.delivery import FirstHalf, Saving
from correlate.store.rows import ChunkRows
from correlate.store.store import open_store

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.campaign.delivery import NewRatings
    from correlate.store.rows import RunInfo
    from correlate.store.store import Store


def saving_into(store: Store, run: RunInfo) -> Saving:
    """Return how the ratings of a run are saved in a store, wherever they are rated."""
    if store.is_file:
        return Saving(
            first=FirstHalf(prepare=rows_of, keeps=True), finish=lambda rows: store.keep_rows(rows, run=run)
        )
    insert = _InsertThere(store.address, run)
    return Saving(
        first=FirstHalf(prepare=insert, keeps=True, scope=repr(insert)), finish=lambda _nothing: None
    )


def rows_of(ratings: Sequence[NewRatings]) -> ChunkRows:
    """Make the rows of new ratings; what cannot be saved is refused here."""
    return ChunkRows.of(chain.from_iterable(records for records, _ in ratings))


@dataclass(frozen=True, slots=True)
class _InsertThere:
    """Inserts new ratings into a server, from the machine where they were made.

    A worker may live for long and have many others beside it: it holds no connection between two tasks.
    """

    address: str
    run: RunInfo

    def __call__(self, ratings: Sequence[NewRatings]) -> None:
        with open_store(self.address) as store:
            store.keep_rows(rows_of(ratings), run=self.run)
