"""Sobol' indices, against closed forms."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.tuning.sensitivity import main_effect, sensitivities, sensitivity, sobol_indices
from correlate.tuning.surrogate import fit_surrogate
from tests.tuning.functions import box, g_function, ishigami, run_table

A = np.array([0.0, 1.0, 4.5, 9.0])


def test_ishigami() -> None:
    """Closed form (a = 7, b = 0.1): first 0.3139, 0.4424, 0; total 0.5576, 0.4424, 0.2437."""
    found = sobol_indices(ishigami, 3, seed=1, power=10)
    assert found.first == pytest.approx([0.3139, 0.4424, 0.0], abs=0.03)
    assert found.total == pytest.approx([0.5576, 0.4424, 0.2437], abs=0.03)


def test_g_function_inside_its_intervals() -> None:
    """Closed form: V_i = 1 / (3 (1 + a_i)²), V = Π (1 + V_i) − 1; the intervals hold it and are narrow."""
    parts = 1 / (3 * (1 + A) ** 2)
    variance = np.prod(1 + parts) - 1
    first = parts / variance
    total = parts * np.array([np.prod(1 + np.delete(parts, place)) for place in range(4)]) / variance
    found = sobol_indices(lambda cube: g_function(cube, A), 4, seed=2, power=10)
    assert found.first == pytest.approx(first, abs=0.03)
    assert found.total == pytest.approx(total, abs=0.03)
    for low, high in ((found.first_low, found.first_high), (found.total_low, found.total_high)):
        assert (low <= high).all()
        assert (high - low < 0.25).all()
    inside = [(found.total_low <= total) & (total <= found.total_high)]
    inside.append((found.first_low <= first) & (first <= found.first_high))
    assert np.mean(inside) >= 0.75


def test_a_constant_has_nothing_to_share() -> None:
    """No variance, no indices."""
    with pytest.raises(SettingsError, match="the same everywhere"):
        sobol_indices(lambda cube: np.ones(len(cube)), 2, seed=0, power=4)


def test_a_single_parameter_has_the_whole_variance() -> None:
    """By the definition of the index; a constant is refused here, too."""
    found = sobol_indices(lambda cube: cube[:, 0] ** 2, 1, seed=0, power=4)
    assert (found.first.tolist(), found.total_low.tolist()) == ([1.0], [1.0])
    with pytest.raises(SettingsError, match="the same everywhere"):
        sobol_indices(lambda cube: np.ones(len(cube)), 1, seed=0, power=4)


def test_a_surrogate_tells_which_parameter_moves_its_outcome() -> None:
    """Of y = 2 x0 − x1: shares 0.8 and 0.2, changes +2 and −1; x2 moves nothing."""
    space = box((0, 1), (0, 1), (0, 1))
    points = np.random.default_rng(0).random((25, 3))
    table = run_table(space, points, {"y": 2 * points[:, 0] - points[:, 1], "flat": np.ones(25)})
    said = sensitivity(fit_surrogate(table, "y"), power=8)
    assert said.indices.total == pytest.approx([0.8, 0.2, 0.0], abs=0.05)
    assert said.change == pytest.approx([2.0, -1.0, 0.0], abs=0.05)
    assert said.strongest() == ("x0", "x1")
    (flat,) = sensitivities([fit_surrogate(table, "flat")])
    assert flat.indices.total.tolist() == [0, 0, 0]
    assert flat.strongest() == ()


def test_a_main_effect_averages_the_others() -> None:
    """Of y = x0 x1 over x0: half of x0, the mean of x1 being 0.5."""
    space = box((0, 1), (0, 1))
    points = np.random.default_rng(1).random((25, 2))
    fitted = fit_surrogate(run_table(space, points, {"y": points[:, 0] * points[:, 1]}), "y")
    assert main_effect(fitted, 0, np.array([0.2, 0.8]), points=2000) == pytest.approx([0.1, 0.4], abs=0.02)
