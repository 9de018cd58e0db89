"""Which block a worker takes next."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from correlate.campaign.scoring import WaitingJobs

LOAD_CASES = st.lists(st.integers(1, 6), min_size=1, max_size=5)


@given(sizes=LOAD_CASES, order=st.lists(st.integers(0, 3), min_size=40, max_size=40))
def test_every_block_is_taken_once_and_workers_stay_while_they_can(
    sizes: list[int], order: list[int]
) -> None:
    """Whoever asks in whatever order: no block is lost, and nobody leaves a load case that waits."""
    jobs = [(f"case {case}", f"A{number}") for case, size in enumerate(sizes) for number in range(size)]
    waiting = WaitingJobs(jobs)
    taken: list[tuple[str, str]] = []
    at: dict[int, str] = {}
    for worker in order:
        job = waiting.take(worker)
        if job is None:
            break
        left = {name for name, _ in set(jobs) - set(taken)}
        assert job[0] == at.get(worker, job[0]) or at[worker] not in left
        at[worker] = job[0]
        taken.append(job)
    assert sorted(taken) == sorted(jobs)
    assert waiting.take(0) is None
