"""One release that several programs rate at the same time: one of them rates it, the others use its ratings.

Each release of a campaign has a lock, a file in the folder for the state of programs. Who holds it rates the
release; the others rate what nobody is at, wait, and look into the store again. A lock ends with its program.
Two users, or two machines, do not see the locks of each other: they rate the same twice, with equal results.
"""

from __future__ import annotations

import hashlib
import time
from collections.abc import Mapping
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from correlate.errors import CorrelateError
from correlate.files import Lock
from correlate.private_folder import private_folder, state_folder

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence
    from pathlib import Path

    from correlate.campaign import Campaign
    from correlate.campaign.delivery import Delivery, FirstHalf, Job
    from correlate.campaign.scoring import Engine, Progress
    from correlate.evaluation.record import PairRecord
    from correlate.store.store import Store

LOOK_S: Final = 0.25
"""Between two looks whether another program has finished."""

BLOCKS_IN_MEMORY: Final = 16
"""Maximum number of blocks whose known ratings are in memory."""

Block = tuple[str, str]
"""Release and load case."""


class KnownRatings(Mapping[str, "PairRecord"]):
    """The ratings of a campaign in a store by their key; read on access, together with their block.

    Parameters
    ----------
    store, campaign
        Where they are.
    """

    def __init__(self, store: Store, campaign: str) -> None:
        self._store, self._campaign = store, campaign
        self._blocks: dict[str, Block] | None = None
        self._seen = 0
        # The ratings of a block are used together; few blocks share ratings.
        self._records = lru_cache(maxsize=BLOCKS_IN_MEMORY)(self._read_records)

    def __len__(self) -> int:
        """Return the number of known ratings."""
        return len(self._known())

    def __iter__(self) -> Iterator[str]:
        """Yield their keys."""
        return iter(self._known())

    def __getitem__(self, key: str) -> PairRecord:
        """Return the record of a rating."""
        found = self._records(self._known()[key]).get(key)
        # Another program may have rated this block again since its keys were read.
        return self._store.known([key])[key] if found is None else found

    def look_again(self) -> frozenset[str]:
        """Return the keys of all ratings that are in the store now."""
        known = self._known()
        if sum(one.pairs for one in self._store.releases(self._campaign)) != self._seen:
            known |= self._read()
        return frozenset(known)

    def _known(self) -> dict[str, Block]:
        if self._blocks is None:
            self._blocks = self._read()
        return self._blocks

    def _read(self) -> dict[str, Block]:
        """Return release and load case of every key; if several pairs share a key, those of one of them."""
        blocks: dict[str, Block] = {}
        self._seen = 0
        for release in self._store.releases(self._campaign):
            rated = self._store.rated_keys(self._campaign, release=release.name)
            cases = {one.load_case: (release.name, one.load_case) for one in rated}
            blocks |= {one.key: cases[one.load_case] for one in rated}
            self._seen += len(rated)
        return blocks

    def _read_records(self, block: Block) -> dict[str, PairRecord]:
        release, load_case = block
        read = self._store.ratings(campaign=self._campaign, release=release, load_case=load_case)
        return {record.key: record for record in read}


class ReleaseLocks:
    """Locks of the releases of a campaign in a store; without a folder for them everything is free."""

    def __init__(self, store: str, campaign: str) -> None:
        self._held: dict[str, Lock] = {}
        self._folder: Path | None = None
        try:
            folder = state_folder(f"{store}\n{campaign}", "rating")
            private_folder(folder)
        except CorrelateError:
            return
        self._folder = folder

    def take_free(self, releases: Sequence[str]) -> list[str]:
        """Lock those that nobody holds; return them."""
        return [release for release in releases if self._take(release)]

    def take_all(self, releases: Sequence[str]) -> list[str]:
        """Take them all, or none while somebody holds one; return them."""
        # In an order that is the same for everybody: of two that want the same, one gets all.
        if all(self._take(release) for release in sorted(releases)):
            return list(releases)
        self.let_go_all()
        return []

    def let_go(self, release: str) -> None:
        """Release the lock of a release."""
        lock = self._held.pop(release, None)
        if lock is not None:
            lock.__exit__()

    def let_go_all(self) -> None:
        """Release all locks."""
        for release in [*self._held]:
            self.let_go(release)

    def _take(self, release: str) -> bool:
        if self._folder is None:
            return True
        try:
            self._held[release] = Lock(self._folder / hashlib.sha256(release.encode()).hexdigest()[:32])
        except BlockingIOError:
            return False
        except OSError:
            # A file system without locks, or without space: nobody else has it either.
            return True
        return True


def shared_engine(
    engine: Engine, locks: ReleaseLocks, *, look_again: Callable[[], frozenset[str]], waiting: Progress
) -> Engine:
    """Return an engine that rates no release while another program does.

    Parameters
    ----------
    engine
        Rates.
    locks
        Of the releases.
    look_again
        Returns the keys of the ratings that are known now.
    waiting
        Told how many blocks are done, of how many, again and again while it waits; may raise.
    """

    def shared(
        campaign: Campaign,
        jobs: Sequence[Job],
        known: frozenset[str],  # noqa: ARG001 - read again
        first: FirstHalf,
    ) -> Iterator[Delivery]:
        left, taken = list(jobs), locks.take_free(_releases(jobs))
        try:
            while left:
                mine = [job for job in left if job[1] in taken]
                if mine:
                    yield from _rated(engine(campaign, mine, look_again(), first), mine, locks)
                    left = [job for job in left if job[1] not in taken]
                else:
                    waiting(len(jobs) - len(left), len(jobs))
                    time.sleep(LOOK_S)
                taken = locks.take_all(_releases(left))
        finally:
            locks.let_go_all()

    return shared


def _rated(deliveries: Iterator[Delivery], jobs: Sequence[Job], locks: ReleaseLocks) -> Iterator[Delivery]:
    """Pass blocks on, and unlock a release when the last of its blocks was saved."""
    open_blocks = {release: {job for job in jobs if job[1] == release} for release in _releases(jobs)}
    for delivered in deliveries:
        # Whoever asks for the next one has saved this one.
        yield delivered
        for job in delivered.jobs:
            open_blocks[job[1]].discard(job)
        for release in _releases(delivered.jobs):
            if not open_blocks[release]:
                locks.let_go(release)


def _releases(jobs: Sequence[Job]) -> list[str]:
    return list(dict.fromkeys(release for _, release in jobs))
