"""The search for the highest point of a smooth function."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.tuning.search import candidates

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@pytest.mark.parametrize("top", [np.array([0.3, 0.7, 0.2, 0.9, 0.5]), np.array([0.3, 0.7, 1.4, -0.2, 0.5])])
def test_it_climbs_to_the_top_or_to_the_bound_before_it(top: Floats) -> None:
    """A paraboloid in five dimensions, its top in the cube or out of it: the nearest point of the cube."""
    points, scores = candidates(
        lambda cube: -np.sum((cube - top) ** 2, axis=1), 5, np.full((1, 5), 0.5), seed=1
    )
    assert points[0] == pytest.approx(np.clip(top, 0, 1), abs=1e-4)
    assert (np.diff(scores) <= 0).all()
    assert points.min() >= 0
    assert points.max() <= 1


def test_it_looks_closely_where_it_is_told() -> None:
    """A hill far too narrow for a scatter over the cube is found about the given point."""
    centre = np.full(6, 0.31)
    near = centre + 0.02

    def hill(cube: Floats) -> Floats:
        return np.asarray(np.exp(-np.sum((cube - centre) ** 2, axis=1) / 2e-3))

    points, _ = candidates(hill, 6, near[None, :], seed=2)
    assert points[0] == pytest.approx(centre, abs=1e-3)


def test_equal_seeds_search_alike() -> None:
    """The same seed gives the same points, another seed others."""
    found = [
        candidates(lambda cube: cube[:, 0], 2, np.array([[0.5, 0.5]]), seed=seed)[0] for seed in (1, 1, 2)
    ]
    assert np.array_equal(found[0], found[1])
    assert not np.array_equal(found[0], found[2])
