"""Saving ratings in two halves, of which the first is done where they were rated.

A worker inserts into a server itself, because a server serves many connections at once. Into a file one
program writes at a time, and only on the machine where it lies: there a worker makes the rows, and the
program that collects inserts them.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

from correlate.campaign.delivery import FirstHalf, Saving
from correlate.store.ratings import BlockRows
from correlate.store.store import open_store

if TYPE_CHECKING:
    from collections.abc import Iterable, Sequence

    from correlate.campaign.delivery import NewRatings
    from correlate.evaluation.evidence import CaseEvidence
    from correlate.store.rows import RunInfo
    from correlate.store.store import Store


def saving_into(store: Store, run: RunInfo, *, saved: Iterable[CaseEvidence]) -> Saving:
    """Return how the ratings of a run are saved in a store, wherever they are rated; it has some evidence."""
    evidence = {(one.load_case, one.release): one for one in saved}
    if store.is_file:
        return Saving(
            first=FirstHalf(prepare=rows_of, keeps=True),
            finish=lambda blocks: store.keep_rows(blocks, run=run),
            evidence=evidence,
        )
    insert = _InsertThere(store.address, run)
    return Saving(
        first=FirstHalf(prepare=insert, keeps=True, scope=repr(insert)),
        finish=lambda _nothing: None,
        evidence=evidence,
    )


def rows_of(ratings: Sequence[NewRatings]) -> list[BlockRows]:
    """Make the rows of new ratings; what cannot be saved is refused here."""
    return [BlockRows.of(records, evidence) for records, evidence in ratings]


@dataclass(frozen=True, slots=True)
class _InsertThere:
    """Inserts new ratings into a server, from the machine where they were made."""

    address: str
    run: RunInfo

    def __call__(self, ratings: Sequence[NewRatings]) -> None:
        if not ratings:
            return
        store = _opened(self.address)
        try:
            for records, evidence in ratings:
                store.keep_block(records, evidence, run=self.run)
        finally:
            # Of many workers that live for long, only those that are saving hold a connection.
            store.close()


@lru_cache(maxsize=1)
def _opened(address: str) -> Store:
    """Open a store, and check its format, once in each process; it connects again after it was closed."""
    return open_store(address)
