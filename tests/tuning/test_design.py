"""Designs: each kind keeps the property it is named for."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.tuning.parameters import Parameter, ParameterSpace
from correlate.tuning.points import DesignKind, design, further_points
from correlate.tuning.runs import RunTable
from correlate.tuning.sensitivity import trajectories

SPACE = ParameterSpace(
    (
        Parameter(name="a", unit="1", lower=1, upper=100, scale="log", start=3),
        Parameter(name="b", unit="1", lower=-5, upper=5, start=0),
        Parameter(name="c", unit="1", lower=0.1, upper=0.7, start=0.35),
    )
)


def cube(kind: DesignKind, runs: int, seed: int = 7) -> np.ndarray[tuple[int, int], np.dtype[np.float64]]:
    """Return the points of a design in the unit cube, without the start point."""
    points = design(SPACE, kind=kind, runs=runs, seed=seed)
    unit = SPACE.to_unit(np.array([SPACE.as_point(one.values) for one in points]))
    return unit[1:]


@pytest.mark.parametrize("kind", ["sobol", "latin-hypercube", "morris"])
def test_the_start_is_first_all_is_inside_and_seeds_repeat(kind: DesignKind) -> None:
    """Equal seeds make equal designs, other seeds others."""
    points = design(SPACE, kind=kind, runs=21, seed=1)
    assert points[0].values == {"a": 3, "b": 0, "c": 0.35}
    assert [one.identity for one in points] == [f"p{number:03d}" for number in range(21)]
    assert all(SPACE.contains(SPACE.as_point(one.values)) for one in points)
    assert design(SPACE, kind=kind, runs=21, seed=1) == points
    assert design(SPACE, kind=kind, runs=21, seed=2) != points


def test_a_latin_hypercube_has_one_point_in_each_slice() -> None:
    """McKay, Beckman and Conover (1979): each of the 20 slices of every parameter is hit once."""
    slices = np.floor(cube("latin-hypercube", 21) * 20).astype(int)
    for column in slices.T:
        assert sorted(column) == list(range(20))


def test_a_sobol_sequence_is_balanced() -> None:
    """Sobol' (1967): of 16 points, one lies in each sixteenth of a parameter, and of a face."""
    points = cube("sobol", 17)
    for column in np.floor(points * 16).astype(int).T:
        assert sorted(column) == list(range(16))
    pairs = {tuple(row) for row in np.floor(points[:, :2] * 4).astype(int)}
    assert len(pairs) == 16


def test_a_morris_design_changes_one_parameter_at_a_time() -> None:
    """Morris (1991): within a trajectory of four points, three steps, each of another parameter."""
    points = cube("morris", 14)
    assert len(points) == 12
    for trajectory in points.reshape(3, 4, 3):
        moved = np.abs(np.diff(trajectory, axis=0)) > 1e-5
        assert moved.sum(axis=1).tolist() == [1, 1, 1]
        assert moved.sum(axis=0).tolist() == [1, 1, 1]


def test_the_screening_finds_the_trajectories_again() -> None:
    """Rounded to digits that a person can read, the points still are trajectories."""
    points = design(SPACE, kind="morris", runs=14, seed=7)
    table = RunTable(
        space=SPACE,
        points=np.array([SPACE.as_point(one.values) for one in points]),
        status=("done",) * len(points),
        outcomes={},
        rounds=np.zeros(len(points), dtype=np.int64),
    )
    assert [rows.tolist() for rows in trajectories(table)] == [[1, 2, 3, 4], [5, 6, 7, 8], [9, 10, 11, 12]]


def test_further_points_continue_the_sequence_of_a_sobol_design() -> None:
    """Points 5 to 7 added to a design of 5, then 8, are those of a design of 9; lost lines stay lost."""
    whole = design(SPACE, kind="sobol", runs=9, seed=3)
    first = design(SPACE, kind="sobol", runs=5, seed=3)
    added = further_points(SPACE, first[:1] + first[3:], runs=3, seed=3)
    assert added == whole[5:8]
    assert further_points(SPACE, added, runs=1, seed=3) == whole[8:]
    with pytest.raises(SettingsError, match="0 points cannot be added"):
        further_points(SPACE, first, runs=0, seed=3)


def test_designs_that_are_too_small_are_refused() -> None:
    """One run has no spread; Morris needs two trajectories."""
    with pytest.raises(SettingsError, match="a design of 1 run has no spread"):
        design(SPACE, kind="sobol", runs=1, seed=1)
    with pytest.raises(SettingsError, match="too few for two trajectories of 4 points; ask for 9 or more"):
        design(SPACE, kind="morris", runs=8, seed=1)
    assert len(design(SPACE, kind="morris", runs=9, seed=1)) == 9
