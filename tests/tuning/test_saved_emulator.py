"""The emulator of curves in its file, and whether it belongs to the fit beside it."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import fit_tuning, tuning_overview
from correlate.errors import FormatError
from correlate.tuning import overview as overview_module
from correlate.tuning.definition import load_tuning
from correlate.tuning.fitted_curves import fit_curves
from correlate.tuning.runs import read_state, run_table
from correlate.tuning.saved_emulator import (
    SavedEmulator,
    emulator_to_save,
    read_emulator,
    write_emulator,
)
from tests.dashboard.project import write_project
from tests.dashboard.tuned_project import write_tuning

if TYPE_CHECKING:
    from pathlib import Path

POINTS = np.random.default_rng(8).random((7, 2))


@pytest.fixture(scope="module")
def fitted(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write a project and fit it; tests that change files copy it."""
    folder = write_tuning(write_project(tmp_path_factory.mktemp("tuned")))
    fit_tuning(folder, runs=1)
    return folder


@pytest.fixture(scope="module")
def fresh(fitted: Path) -> SavedEmulator:
    """Fit the emulator without saving it."""
    tuning = load_tuning(fitted)
    state = read_state(tuning)
    table = run_table(tuning, state)
    return emulator_to_save(table, fit_curves(tuning, state, table))


def test_an_emulator_predicts_the_same_after_reading(fresh: SavedEmulator, tmp_path: Path) -> None:
    """Curves, amounts and deviations to the last bit, with and without a shift; runs to seven digits."""
    write_emulator(tmp_path / "fit.npz", fresh, fit_text="a fit")
    again = read_emulator(tmp_path / "fit.npz")
    assert again
    assert again.identities == fresh.identities
    assert again.space == fresh.space
    assert again.settings == fresh.settings
    shifts = [one.shift is not None for one in fresh.emulator.channels]
    assert any(shifts)
    for before, after in zip(fresh.emulator.channels, again.emulator.channels, strict=True):
        assert np.array_equal(after.predict(POINTS), before.predict(POINTS))
        assert np.array_equal(after.moments(POINTS), before.moments(POINTS))
        assert after.channel.tests.keys() == before.channel.tests.keys()
        size = np.abs(before.left_out).max()
        np.testing.assert_allclose(after.left_out, before.left_out, rtol=0, atol=1e-9 * size)
        np.testing.assert_allclose(after.left, before.left, rtol=0, atol=1e-6 * size)
    for before_curves, after_curves in zip(fresh.curves, again.curves, strict=True):
        np.testing.assert_allclose(after_curves, before_curves, rtol=1e-6, atol=1e-6)


def test_a_file_is_read_once_until_it_changes(fresh: SavedEmulator, tmp_path: Path) -> None:
    """The same object while the file is the same, another one when it was written again."""
    file = tmp_path / "fit.npz"
    assert read_emulator(file) is None
    write_emulator(file, fresh, fit_text="a fit")
    first = read_emulator(file)
    assert read_emulator(file) is first
    write_emulator(file, fresh, fit_text="another fit")
    second = read_emulator(file)
    assert first
    assert second
    assert second.fit_sha256 != first.fit_sha256


@pytest.mark.parametrize("kept", [0, 100, -100])
def test_a_damaged_file_is_named(fresh: SavedEmulator, tmp_path: Path, kept: int) -> None:
    """Empty, cut short at the start or at the end: one sentence, with what to do."""
    file = tmp_path / "fit.npz"
    write_emulator(file, fresh, fit_text="a fit")
    file.write_bytes(file.read_bytes()[:kept])
    with pytest.raises(FormatError, match=r"fit\.npz: is not a file of emulated curves.*fit the surrogates"):
        read_emulator(file)


def test_fit_and_curves_belong_together(fitted: Path) -> None:
    """Both are written by one fit, and read as a pair."""
    overview = tuning_overview(fitted)
    assert overview.fit
    assert overview.curves
    assert overview.curves_problem == ""
    assert len(overview.curves.identities) == 11
    assert [one.channel.channel for one in overview.curves.emulator.channels] == [
        "D0HEAD0000KMACXP",
        "D0HEAD0000KMACZP",
        "D0CHST0003KMDSXP",
        "D0LUSP0000KMFOZP",
    ]


def test_an_interrupted_fit_leaves_no_pair_that_looks_whole(
    fitted: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Stopped between the two files: the old fit is shown, and its curves are refused with a reason."""
    folder = tmp_path / "stopped"
    shutil.copytree(fitted, folder)

    def stop(*_: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(overview_module, "write_text", stop)
    with pytest.raises(KeyboardInterrupt):
        fit_tuning(folder, runs=2)
    overview = tuning_overview(folder)
    assert overview.fit
    assert len(overview.fit.proposals) == 1
    assert overview.curves is None
    assert "belong to different fits" in overview.curves_problem


def test_curves_that_are_absent_or_torn_are_said(fitted: Path, tmp_path: Path) -> None:
    """The fit itself is shown all the same."""
    folder = tmp_path / "torn"
    shutil.copytree(fitted, folder)
    (folder / "fit.npz").write_bytes(b"PK")
    assert "is not a file of emulated curves" in tuning_overview(folder).curves_problem
    (folder / "fit.npz").unlink()
    overview = tuning_overview(folder)
    assert overview.fit
    assert "has no emulated curves; fit again" in overview.curves_problem


def test_results_that_are_gone_leave_a_fit_without_curves(fitted: Path, tmp_path: Path) -> None:
    """Ratings are still there to be fitted; the reason names the file."""
    folder = tmp_path / "gone"
    shutil.copytree(fitted, folder)
    shutil.rmtree(folder / "runs/p003/output")
    for file in folder.glob("runs/*/traces.npz"):
        file.unlink()
    fit_tuning(folder, runs=1)
    overview = tuning_overview(folder)
    assert overview.fit
    assert overview.curves is None
    assert overview.curves_problem.startswith("The curves were not emulated: ")
    assert "p003" in overview.curves_problem
