"""Leave-one-out in closed form."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate.errors import SettingsError
from correlate.tuning.gaussian_process import LeaveOneOut, leave_one_out


@settings(max_examples=20, deadline=None)
@given(st.integers(3, 9), st.integers(0, 10_000))
def test_it_says_what_leaving_out_one_by_one_says(count: int, seed: int) -> None:
    """Each prediction equals the conditional mean and deviation given the others, computed the long way."""
    random = np.random.default_rng(seed)
    root = random.standard_normal((count, count))
    covariance = root @ root.T + 0.1 * np.eye(count)
    values, centre = random.standard_normal(count), 0.3
    said = leave_one_out(covariance, values, centre=centre)
    for out in range(count):
        others = np.delete(np.arange(count), out)
        gain = np.linalg.solve(covariance[np.ix_(others, others)], covariance[others, out])
        assert said.predicted[out] == pytest.approx(
            centre + gain @ (values[others] - centre), rel=1e-6, abs=1e-8
        )
        left = covariance[out, out] - gain @ covariance[others, out]
        assert said.deviation[out] ** 2 == pytest.approx(left, rel=1e-6)


def test_q2_is_one_for_exact_and_zero_for_the_mean() -> None:
    """The definition at its two marks, and the error beside it."""
    rated = np.array([1.0, 2.0, 6.0])
    exact = LeaveOneOut(rated=rated, predicted=rated, deviation=np.ones(3))
    mean = LeaveOneOut(rated=rated, predicted=np.full(3, 3.0), deviation=np.ones(3))
    assert exact.q2 == 1
    assert exact.error == 0
    assert mean.q2 == pytest.approx(0)
    assert mean.error == pytest.approx(np.sqrt(14 / 3))


def test_equal_values_have_no_q2() -> None:
    """There is no variance to predict."""
    same = np.ones(4)
    assert np.isnan(LeaveOneOut(rated=same, predicted=same, deviation=same).q2)


def test_it_refuses_what_is_no_covariance() -> None:
    """Wrong shape, and a matrix with a negative direction."""
    with pytest.raises(SettingsError, match="does not fit 3 values"):
        leave_one_out(np.eye(2), np.zeros(3))
    with pytest.raises(SettingsError, match="not positive definite"):
        leave_one_out(np.array([[1.0, 2.0], [2.0, 1.0]]), np.zeros(2))
