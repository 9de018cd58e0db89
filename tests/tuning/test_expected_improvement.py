"""Expected improvement, against integrals."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from correlate.tuning.acquisition import expected_improvement, log_chance_above, log_expected_improvement


@pytest.mark.parametrize("z", [5.0, 0.5, 0.0, -0.5, -3.0, -30.0, -1e3, -0.9e5, -1.2e5])
def test_the_logarithm_equals_the_integral(z: float) -> None:
    """∫ t φ(t − z) dt over t > 0 with φ(z) taken out, by quadrature, down to where it would underflow."""
    end = 60 / max(1.0, -z) if z < 0 else 40.0
    rest = quad(lambda t: t * np.exp(z * t - t * t / 2), 0, end)[0]
    expected = -z * z / 2 - np.log(2 * np.pi) / 2 + np.log(rest)
    found = log_expected_improvement(np.array([2 * z + 1]), np.array([2.0]), 1.0)[0] - np.log(2.0)
    assert found == pytest.approx(expected, rel=1e-9, abs=1e-9)


@given(st.floats(-3, 3), st.floats(0.01, 3), st.floats(-3, 3))
def test_more_hope_and_more_doubt_promise_more(mean: float, deviation: float, best: float) -> None:
    """It rises with the mean and with the deviation, and is never below the plain gain."""
    base = expected_improvement(np.array([mean]), np.array([deviation]), best)[0]
    assert base >= max(mean - best, 0.0) - 1e-12
    assert expected_improvement(np.array([mean + 0.1]), np.array([deviation]), best)[0] >= base - 1e-12
    assert expected_improvement(np.array([mean]), np.array([deviation + 0.1]), best)[0] >= base - 1e-12


def test_a_certain_guess_improves_by_its_gain() -> None:
    """Without doubt the improvement is the gain, or nothing; its logarithm stays finite."""
    means, none = np.array([0.5, 2.0]), np.zeros(2)
    assert expected_improvement(means, none, 1.0).tolist() == [0.0, 1.0]
    assert np.isfinite(log_expected_improvement(means, none, 1.0)).all()


def test_the_chance_of_a_limit_is_the_normal_one() -> None:
    """At the limit a half; 1.959964 deviations above it 97.5 %, below it 2.5 % (normal table)."""
    chance = np.exp(log_chance_above(np.array([1.0, 1.0 + 1.959964, 1.0 - 1.959964]), np.ones(3), 1.0))
    assert chance == pytest.approx([0.5, 0.975, 0.025], abs=1e-6)
