"""Sensitivity over time, against closed forms."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from correlate.tuning.curve_sensitivity import curve_sensitivity

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

TIME = np.linspace(0.0, 0.1, 101)
EARLY = np.exp(-(((TIME - 0.02) / 0.01) ** 2))
LATE = np.exp(-(((TIME - 0.07) / 0.01) ** 2))


def linear(cube: Floats) -> Floats:
    """Return curves that are linear in three parameters: early, late, and the last one falling, both."""
    return np.asarray(
        5.0 + 4.0 * cube[:, :1] * EARLY + 2.0 * cube[:, 1:2] * LATE - cube[:, 2:3] * (EARLY + LATE)
    )


def test_shares_of_a_linear_curve_are_exact() -> None:
    """Variance of a parameter on its range is slope² / 12; where both pulses are small nothing is said."""
    found = curve_sensitivity(linear, TIME, 3)
    slopes = np.array([4.0 * EARLY, 2.0 * LATE, -(EARLY + LATE)])
    variances = slopes**2 / 12
    told = np.isfinite(found.first[0])
    np.testing.assert_allclose(found.spread, np.sqrt(variances.sum(axis=0)), rtol=0.01, atol=1e-9)
    np.testing.assert_allclose(
        found.first[:, told], (variances / variances.sum(axis=0))[:, told], rtol=0, atol=0.03
    )
    assert not told[-1]
    assert told[20]
    assert told[70]
    np.testing.assert_allclose(found.change, slopes, rtol=0, atol=1e-9)
    whole = variances.sum(axis=1) / variances.sum()
    np.testing.assert_allclose(found.share, whole, rtol=0, atol=0.02)
    assert found.order == [0, 1, 2]


def test_an_interaction_belongs_to_no_parameter_alone() -> None:
    """A product of two centred parameters explains nothing by either."""
    found = curve_sensitivity(
        lambda cube: (cube[:, :1] - 0.5) * (cube[:, 1:2] - 0.5) * np.ones(30), np.arange(30.0), 2, power=11
    )
    assert np.nanmax(found.first) < 0.05
    np.testing.assert_allclose(found.spread, 1 / 12, rtol=0.02)


def test_a_curve_that_never_moves_has_no_shares() -> None:
    """No variance is divided by nothing."""
    found = curve_sensitivity(lambda cube: np.tile(EARLY, (len(cube), 1)), TIME, 2)
    assert np.isnan(found.first).all()
    assert not found.share.any()
    assert not found.change.any()


def test_long_curves_are_looked_at_where_they_are_drawn() -> None:
    """At most 240 times, the first and the last among them."""
    time = np.linspace(0, 1, 5000)
    found = curve_sensitivity(lambda cube: cube[:, :1] * time, time, 1)
    assert found.time.size == 240
    assert (found.time[0], found.time[-1]) == (0.0, 1.0)
