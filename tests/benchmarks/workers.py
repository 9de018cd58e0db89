"""Two workers of a scheduler on this machine against one, on the same campaign."""

from __future__ import annotations

import tempfile
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

from correlate import load_campaign
from correlate.campaign.engines import dask_engine
from tests.benchmarks.campaign import PAIRS, scored_s, write_project
from tests.benchmarks.table import Row, row_of

if TYPE_CHECKING:
    from collections.abc import Iterator

SETTINGS = {"threads_per_worker": 1, "processes": True, "dashboard_address": ":0", "silence_logs": 50}


def rows(repetitions: int = 5) -> Iterator[Row]:
    """Compare twice the time of two workers with that of one; 1 would be a perfect division.

    The workers run and have scored a small campaign before the clock starts. Scheduler and this program run
    on the same cores as the workers.

    Parameters
    ----------
    repetitions
        How often.
    """
    distributed: Any = import_module("distributed")  # slow, and an extra
    with (
        tempfile.TemporaryDirectory() as name,
        distributed.LocalCluster(n_workers=1, **SETTINGS) as one,
        distributed.LocalCluster(n_workers=2, **SETTINGS) as two,
    ):
        write_project(Path(name, "small"), releases=2)
        write_project(Path(name, "large"))
        small, large = load_campaign(Path(name, "small")), load_campaign(Path(name, "large"))
        engines = [dask_engine(cluster.scheduler_address) for cluster in (two, one)]
        for engine in engines:
            scored_s(small, engine)
        times = []
        for _ in range(repetitions):
            of_two, of_one = (scored_s(large, engine) for engine in engines)
            times.append((2 * of_two, of_one))
    yield row_of(
        f"{PAIRS:,} pairs by two workers of a scheduler (time doubled), against one worker", times, goal=0.9
    )
