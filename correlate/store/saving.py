"""Saving ratings in two halves, of which the first is done where they were rated.

A worker inserts into a database server itself, because a server accepts many connections at once. Only one
program at a time can write a database file, and only on its own machine: the worker prepares the rows, and
the collecting program inserts them.
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
    """Return how the ratings of a run are saved in a store; the evidence `saved` is there already."""
    evidence = {(one.load_case, one.release): one for one in saved}
    if store.is_file:
        return Saving(
            first=FirstHalf(prepare=rows_of, keeps=True),
            finish=lambda tasks: store.keep_rows([block for blocks in tasks for block in blocks], run=run),
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
    """Inserts new ratings into a database server, from the machine where they were computed."""

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
            # Of many long-running workers, only those that are saving have a connection open.
            store.close()


@lru_cache(maxsize=1)
def _opened(address: str) -> Store:
    """Open a store, and check its format, once in each process; it connects again after it was closed."""
    return open_store(address)
