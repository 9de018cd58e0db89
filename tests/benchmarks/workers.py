"""Two workers of a scheduler on this machine against one, on the same campaign."""

from __future__ import annotations

import os
import statistics
import sys
import tempfile
import time
from dataclasses import replace
from importlib import import_module
from itertools import count
from pathlib import Path
from typing import TYPE_CHECKING, Any

from correlate import RunInfo, load_campaign, open_store
from correlate.campaign.scoring import dask_engine
from correlate.store.saving import saving_into
from tests.benchmarks.campaign import SMALL_BLOCKS, scored_s, write_project
from tests.benchmarks.table import Row, row_of

if TYPE_CHECKING:
    from collections.abc import Iterator

SETTINGS = {"threads_per_worker": 1, "processes": True, "dashboard_address": ":0", "silence_logs": 50}


def rows(repetitions: int = 5) -> Iterator[Row]:
    """Compare twice the time of two workers with that of one; 1 would be a perfect division.

    One cluster grows and shrinks, so that no idle one takes time from the other. Its workers have scored a
    small campaign before the clock starts. Scheduler and this program run on the same cores as the workers.
    Ratings are saved in a file.

    Parameters
    ----------
    repetitions
        How often.
    """
    distributed: Any = import_module("distributed")  # slow, and an extra
    surroundings = dict(os.environ)
    with (
        tempfile.TemporaryDirectory() as name,
        distributed.LocalCluster(n_workers=1, **SETTINGS) as cluster,
    ):
        write_project(Path(name, "small"), replace(SMALL_BLOCKS, releases=4))
        write_project(Path(name, "large"))
        small, large = load_campaign(Path(name, "small")), load_campaign(Path(name, "large"))
        engine = dask_engine(cluster.scheduler_address)

        def spent_s(workers: int) -> float:
            cluster.scale(workers)
            cluster.wait_for_workers(workers)
            while len(cluster.scheduler_info["workers"]) > workers:
                time.sleep(0.1)
            scored_s(small, engine)
            with open_store(Path(name, f"{next(numbers)}.sqlite")) as store:
                start = time.process_time()
                spent = scored_s(large, engine, saving=saving_into(store, RunInfo.now(), saved=()))
                program_s.append(time.process_time() - start)
            return spent

        numbers, program_s = count(), list[float]()
        times = [(2 * spent_s(2), spent_s(1)) for _ in range(repetitions)]
    # The cluster leaves settings of the memory allocator behind, for all processes started later.
    os.environ.clear()
    os.environ.update(surroundings)
    yield row_of(
        f"{SMALL_BLOCKS.pairs:,} pairs by two workers of a scheduler (time doubled), against one worker",
        times,
        goal=0.95,
    )
    per_pair = statistics.median(program_s) / SMALL_BLOCKS.pairs
    print(f"Processor time of program and scheduler: {per_pair * 1e6:.1f} µs per pair.", file=sys.stderr)
