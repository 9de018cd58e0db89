"""Reading the curves of the runs, and keeping them beside the record."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.tuning.definition import load_tuning
from correlate.tuning.rating import RunRater
from correlate.tuning.runs import read_state, run_table
from correlate.tuning.traces import FILE, read_traces
from tests.dashboard.project import write_project
from tests.dashboard.tuned_project import write_tuning

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.tuning.traces import TraceTable


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write a project with seven finished runs."""
    return write_tuning(write_project(tmp_path_factory.mktemp("traces")), finished=7)


@pytest.fixture
def project(written: Path, tmp_path: Path) -> Path:
    """Return a copy that a test may change."""
    return shutil.copytree(written, tmp_path / "project")


def read(folder: Path) -> TraceTable:
    """Read the curves of a project."""
    tuning = load_tuning(folder)
    state = read_state(tuning)
    return read_traces(tuning, RunRater(tuning), state, run_table(tuning, state))


def kept(folder: Path) -> dict[str, int]:
    """Return when the curves of each run were kept."""
    return {path.parent.name: path.stat().st_mtime_ns for path in folder.glob(f"runs/*/{FILE}")}


def test_curves_lie_on_the_interval_of_the_load_case(project: Path) -> None:
    """One row a finished run, on the grid of the tests, in their unit; the failed run has none."""
    found = read(project)
    assert found.rows.tolist() == list(range(7))
    channel, curves = found.channels[0], found.curves[0]
    assert curves.shape == (7, channel.time.size)
    assert (channel.time[0], channel.time[-1]) == (0.0, pytest.approx(0.04))
    assert all(one.size == channel.time.size for one in channel.tests.values())
    assert found.select([1, 3]).curves[0] == pytest.approx(curves[[1, 3]])


def test_curves_are_kept_and_equal_when_read_again(project: Path) -> None:
    """The second reading takes them from the files and gives the same bits."""
    first = read(project)
    before = kept(project)
    second = read(project)
    assert len(before) == 7
    assert kept(project) == before
    for one, other in zip(first.curves, second.curves, strict=True):
        assert np.array_equal(one, other)


def test_other_rules_or_damage_read_the_results_again(project: Path) -> None:
    """A changed filter gives other curves; a file that is cut short is written anew."""
    first = read(project)
    file = project / "runs" / "p001" / FILE
    file.write_bytes(file.read_bytes()[:100])
    assert np.array_equal(read(project).curves[0], first.curves[0])
    campaign = project / "campaign.toml"
    text = campaign.read_text(encoding="utf-8").replace("cfc = 1000", "cfc = 180", 1)
    campaign.write_text(text, encoding="utf-8")
    assert not np.array_equal(read(project).curves[0], first.curves[0])


def test_curves_of_another_interval_are_refused(project: Path) -> None:
    """A kept curve of another length, as a changed file could hold, names run, channel and remedy."""
    read(project)
    file = project / "runs" / "p002" / FILE
    with np.load(file) as content:
        arrays = dict(content)
    arrays["curve0"] = arrays["curve0"][:-1]
    np.savez(file, **arrays)
    with pytest.raises(SettingsError, match=r"run 'p002': load case 'drop', channel '.*: 400 samples"):
        read(project)


def test_without_a_finished_run_there_are_no_curves(tmp_path: Path) -> None:
    """The remedy names the command."""
    folder = write_tuning(write_project(tmp_path), finished=0)
    with pytest.raises(SettingsError, match="no run is finished; run 'correlate tune run'"):
        read(folder)
