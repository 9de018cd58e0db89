"""Whether intervals hold what they promise."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.tuning.gaussian_process import LeaveOneOut
from correlate.tuning.surrogate import calibration, half_width


def test_half_widths_are_those_of_the_normal_distribution() -> None:
    """Tables of the standard normal distribution: 0.674490, 1.281552, 1.959964."""
    found = [half_width(level) for level in (0.5, 0.8, 0.95)]
    assert found == pytest.approx([0.674490, 1.281552, 1.959964], abs=1e-6)


@pytest.mark.parametrize("level", [0.0, 1.0, -0.1])
def test_no_interval_holds_all_or_nothing(level: float) -> None:
    """The level is a share between 0 and 1."""
    with pytest.raises(SettingsError, match="cannot hold a share"):
        half_width(level)


def test_shares_are_counted() -> None:
    """Errors of 0.5, 1, 1.5 and 3 deviations: 1, 2, 3 of 4 are inside the 50, 80 and 95 % intervals."""
    rated = np.array([0.5, -1.0, 1.5, 3.0])
    said = LeaveOneOut(rated=rated, predicted=np.zeros(4), deviation=np.ones(4))
    assert [one.observed for one in calibration(said)] == [0.25, 0.5, 0.75]
    assert [one.nominal for one in calibration(said)] == [0.5, 0.8, 0.95]


def test_honest_guesses_are_found_calibrated() -> None:
    """Normal errors of the stated size keep every promise within three times what chance allows."""
    errors = np.random.default_rng(1).standard_normal(2000)
    said = LeaveOneOut(rated=2 * errors, predicted=np.zeros(2000), deviation=np.full(2000, 2.0))
    for one in calibration(said):
        assert abs(one.observed - one.nominal) < 3 * one.chance
