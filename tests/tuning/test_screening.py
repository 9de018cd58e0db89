"""Screening on runs of a Morris design."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.tuning.parameters import Parameter, ParameterSpace
from correlate.tuning.points import design
from correlate.tuning.sensitivity import screen, trajectories
from tests.tuning.functions import run_table

SPACE = ParameterSpace(
    (
        Parameter(name="a", unit="1", lower=0, upper=2, start=1),
        Parameter(name="b", unit="1", lower=0.1, upper=10, scale="log", start=1),
        Parameter(name="c", unit="1", lower=0, upper=1, start=0.5),
    )
)
POINTS = np.array([SPACE.as_point(one.values) for one in design(SPACE, kind="morris", runs=33, seed=4)])
WORTH = 3 * POINTS[:, 0] - np.log10(POINTS[:, 1])


def test_linear_effects_are_found_over_the_whole_range() -> None:
    """Of 3 a − log10 b: +6 over the range of a, −2 over that of b, 0 of c; spread only by rounding."""
    said = screen(run_table(SPACE, POINTS, {"y": WORTH}), "y")
    assert said.trajectories == 8
    assert said.mean == pytest.approx([6, -2, 0], abs=1e-4)
    assert said.mean_size == pytest.approx([6, 2, 0], abs=1e-4)
    assert said.spread == pytest.approx([0, 0, 0], abs=1e-4)
    assert said.mean_size_half_width == pytest.approx([0, 0, 0], abs=1e-4)


def test_what_depends_on_another_parameter_has_spread() -> None:
    """Of a c, the effect of each depends on the other."""
    said = screen(run_table(SPACE, POINTS, {"y": POINTS[:, 0] * POINTS[:, 2]}), "y")
    assert said.spread[0] > 0.1
    assert said.spread[2] > 0.1
    assert said.spread[1] == pytest.approx(0, abs=1e-9)


def test_a_failed_run_costs_its_trajectory_alone() -> None:
    """The start point is in none; one failure leaves seven of eight, with the same answer."""
    assert [rows[0] for rows in trajectories(run_table(SPACE, POINTS, {}))] == [1, 5, 9, 13, 17, 21, 25, 29]
    status = ["done"] * 33
    status[6] = "failed"
    said = screen(run_table(SPACE, POINTS, {"y": WORTH}, status=status), "y")
    assert said.trajectories == 7
    assert said.mean == pytest.approx([6, -2, 0], abs=1e-4)


def test_other_designs_are_refused() -> None:
    """A Latin hypercube has no trajectories; points that were moved are on no grid."""
    spread = np.array([SPACE.as_point(one.values) for one in design(SPACE, kind="sobol", runs=20, seed=1)])
    with pytest.raises(SettingsError, match="0 trajectories are complete"):
        screen(run_table(SPACE, spread, {"y": spread[:, 0]}), "y")
    moved = SPACE.from_unit(np.clip(0.77 * SPACE.to_unit(POINTS), 0, 1))
    with pytest.raises(SettingsError, match="not those of one grid"):
        screen(run_table(SPACE, moved, {"y": WORTH}), "y")
