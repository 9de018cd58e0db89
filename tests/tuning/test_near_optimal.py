"""Parameters that the rating leaves open."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.tuning.near_optimal import near_optimal
from tests.tuning.functions import box

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

MIDDLE = np.full(3, 0.5)


def test_a_known_density_is_sampled() -> None:
    r"""A rating that falls as the distance makes the density normal, of standard deviation τ/slope.

    With f* − f = s |x − m| in one dimension, exp(−½ (s |x − m| / τ)²) is a normal density with τ/s = 0.05.
    """
    found = near_optimal(
        box((0, 1)), lambda cube: -2.0 * np.abs(cube[:, 0] - 0.5), np.array([0.5]), 0.1, seed=1
    )
    assert found.sample.std() == pytest.approx(0.05, rel=0.1)
    assert found.sample.mean() == pytest.approx(0.5, abs=0.01)
    assert found.spread[0] == pytest.approx(0.05 * np.sqrt(12), rel=0.1)
    assert found.words == ()


def test_a_ridge_leaves_its_parameters_open() -> None:
    """Only the sum of two parameters counts, and a third does nothing: any value of each rates as well."""

    def ridge(cube: Floats) -> Floats:
        return np.asarray(-np.abs(cube[:, 0] + cube[:, 1] - 1))

    found = near_optimal(box((0, 1), (0, 1), (0, 1)), ridge, MIDDLE, 0.03)
    assert np.corrcoef(found.sample[:, 0], found.sample[:, 1])[0, 1] < -0.95
    assert found.loose == ("x0", "x1", "x2")
    assert found.words[2] == "the rating leaves 'x2' open: nearly any value gives the same rating"


def test_parameters_that_are_pinned_down_are_not_named() -> None:
    """A round hill: none is loose; the sample stays in the cube."""
    found = near_optimal(
        box((0, 1), (0, 1), (0, 1)), lambda cube: -np.linalg.norm(cube - 0.9, axis=1), MIDDLE + 0.4, 0.1
    )
    assert found.loose == ()
    assert found.sample.min() >= 0
    assert found.sample.max() <= 1


def test_a_tolerance_is_needed() -> None:
    """Without one only the best point rates as well as the best point."""
    with pytest.raises(SettingsError, match="leaves only one point"):
        near_optimal(box((0, 1)), lambda cube: cube[:, 0], np.array([0.5]), 0.0)
