"""The waiting blocks, and which of them a worker takes next."""

from __future__ import annotations

from collections import Counter, deque
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Hashable, Iterable

Job = tuple[str, str]
"""A load case and a release, by name."""


class WaitingJobs:
    """Hands out blocks so that each worker stays with a load case, whose tests it has read already.

    Parameters
    ----------
    jobs
        In the order wanted.

    Examples
    --------
    >>> waiting = WaitingJobs([("drop", "A1"), ("drop", "A2"), ("sled", "A1")])
    >>> [waiting.take(worker) for worker in ("one", "two", "one", "two")]
    [('drop', 'A1'), ('sled', 'A1'), ('drop', 'A2'), None]
    """

    def __init__(self, jobs: Iterable[Job]) -> None:
        self._by_load_case: dict[str, deque[Job]] = {}
        self._at: dict[Hashable, str] = {}
        for job in jobs:
            self._by_load_case.setdefault(job[0], deque()).append(job)

    def take(self, worker: Hashable) -> Job | None:
        """Return the next block for a worker.

        Parameters
        ----------
        worker
            Whoever asks.

        Returns
        -------
        Job or None
            None when nothing waits any more.
        """
        if not self._by_load_case:
            return None
        at = self._at.get(worker)
        load_case = at if at in self._by_load_case else self._least_crowded()
        self._at[worker] = load_case
        jobs = self._by_load_case[load_case]
        job = jobs.popleft()
        if not jobs:
            del self._by_load_case[load_case]
        return job

    def _least_crowded(self) -> str:
        """Return the load case with the most waiting blocks for each worker that is at it."""
        workers = Counter(self._at.values())
        return max(self._by_load_case, key=lambda name: len(self._by_load_case[name]) / (1 + workers[name]))
