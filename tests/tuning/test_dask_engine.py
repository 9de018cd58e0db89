"""Runs handed to a scheduler that is there already."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

import pytest

from correlate.errors import SettingsError
from correlate.tuning.missing_runs import dask_engine, run_missing
from correlate.tuning.runs import read_state, run_table
from tests.tuning.project import GainRater, calls, tuning_project

if TYPE_CHECKING:
    from pathlib import Path


def test_a_scheduler_runs_what_is_missing(tmp_path: Path) -> None:
    """Good, failed and unstable runs come back as from the local engine; a second start runs nothing."""
    distributed: Any = import_module("distributed")
    tuning = tuning_project(tmp_path, [2.0, 9.0, 7.5])
    with distributed.LocalCluster(
        n_workers=1,
        threads_per_worker=2,
        processes=False,
        protocol="tcp",
        host="127.0.0.1",
        dashboard_address=None,
    ) as cluster:
        engine = dask_engine(cluster.scheduler_address)
        run_missing(tuning, GainRater(), engine=engine)
        run_missing(tuning, GainRater(), engine=engine)
    assert run_table(tuning, read_state(tuning)).status == ("done", "failed", "unstable")
    assert sorted(calls(tuning)) == ["p000", "p001", "p002"]


def test_a_scheduler_that_does_not_answer_is_named(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """One sentence with the address; the points are still to be run."""
    monkeypatch.setattr("correlate.parallel.PATIENCE_S", 0.3)
    tuning = tuning_project(tmp_path, [2.0])
    with pytest.raises(SettingsError, match=r"no scheduler answers at tcp://127\.0\.0\.1:9"):
        run_missing(tuning, GainRater(), engine=dask_engine("tcp://127.0.0.1:9"))
    assert read_state(tuning).records == {}
