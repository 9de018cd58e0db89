"""How likely a run is to end well."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.tuning.search import fit_success
from tests.tuning.functions import box, run_table

SPACE = box((0, 1), (0, 1))
POINTS = np.random.default_rng(0).random((40, 2))


def test_failures_in_a_corner_are_learned() -> None:
    """Runs with x0 above 0.7 fail in one way or another: unlikely there, likely elsewhere."""
    ways = np.resize(["failed", "timed out", "unfinished", "unstable"], 40)
    status = np.where(POINTS[:, 0] > 0.7, ways, "done").tolist()
    model = fit_success(run_table(SPACE, POINTS, {}, status=status))
    chance = model.chance(np.array([[0.92, 0.5], [0.2, 0.5]]))
    assert chance[0] < 0.2
    assert chance[1] > 0.8
    assert model.share == pytest.approx(np.mean(POINTS[:, 0] <= 0.7))


def test_without_failures_every_run_ends_well() -> None:
    """Nothing is known against any point; runs that wait say nothing."""
    status = ["done"] * 30 + ["waiting"] * 10
    model = fit_success(run_table(SPACE, POINTS, {}, status=status))
    assert model.process is None
    assert model.chance(POINTS).tolist() == [1.0] * 40


def test_chances_stay_chances() -> None:
    """Far from the runs, too, a chance is between 0 and 1."""
    status = ["failed"] + ["done"] * 39
    chance = fit_success(run_table(SPACE, POINTS, {}, status=status)).chance(
        np.random.default_rng(1).random((200, 2))
    )
    assert chance.min() >= 0
    assert chance.max() <= 1
