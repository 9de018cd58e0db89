"""The Gaussian process and the settings it is given."""

from __future__ import annotations

import numpy as np
import pytest
from sklearn.gaussian_process import GaussianProcessRegressor
from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel

from correlate.tuning.gaussian_process import (
    LENGTHS,
    GaussianProcess,
    ProcessSettings,
    fit_process,
    log_likelihood,
)

RANDOM = np.random.default_rng(3)
CUBE = RANDOM.random((14, 2))
VALUES = np.sin(5 * CUBE[:, 0]) + 0.3 * CUBE[:, 1]


def held(noise: float = 1e-3) -> GaussianProcess:
    """Return a process with settings written down, of unit scale about 0."""
    settings = ProcessSettings(
        size=1.0,
        noise=noise,
        smoothness=2.5,
        lengths=np.array([0.4, 0.9]),
        converged=True,
    )
    return GaussianProcess(CUBE, VALUES, centre=0.0, scale=1.0, settings=settings)


def test_it_predicts_what_the_general_library_predicts() -> None:
    """Mean and deviation equal those of scikit-learn with the same settings."""
    library = GaussianProcessRegressor(1.0 * Matern([0.4, 0.9], nu=2.5) + WhiteKernel(1e-3), optimizer=None)
    library.fit(CUBE, VALUES)
    points = np.random.default_rng(4).random((20, 2))
    mean, deviation = library.predict(points, return_std=True)
    said = held().predict(points)
    assert said.mean == pytest.approx(mean, abs=1e-8)
    assert said.run_deviation == pytest.approx(deviation, abs=1e-8)
    assert held().mean(points) == pytest.approx(mean, abs=1e-8)


@pytest.mark.parametrize("smoothness", [2.5, 1.5])
def test_likelihood_and_slope_are_those_of_the_general_library(smoothness: float) -> None:
    """Value and slopes equal those of scikit-learn at random settings."""
    squares = np.square(CUBE.T[:, :, None] - CUBE.T[:, None, :])
    kernel = ConstantKernel(1.0) * Matern([1.0, 1.0], nu=smoothness) + WhiteKernel(1.0)
    library = GaussianProcessRegressor(kernel, optimizer=None).fit(CUBE, VALUES)
    for theta in np.random.default_rng(7).uniform([-1, -2, -2, -7], [1, 2, 2, 0], (10, 4)):
        value, slope = library.log_marginal_likelihood(theta, eval_gradient=True)
        found, found_slope = log_likelihood(squares, VALUES, smoothness, theta)
        assert found == pytest.approx(value)
        assert found_slope == pytest.approx(slope, rel=1e-6, abs=1e-6)


def test_believing_leaves_the_mean_and_takes_the_doubt() -> None:
    """A believed point moves no prediction and is certain afterwards."""
    point = np.array([[0.95, 0.05]])
    before, after = held(1e-6), held(1e-6).believing(point)
    others = np.random.default_rng(5).random((10, 2))
    assert after.mean(others) == pytest.approx(before.mean(others), abs=1e-6)
    assert after.predict(point).deviation[0] < 0.01 * before.predict(point).deviation[0]
    assert (after.predict(others).deviation <= before.predict(others).deviation + 1e-9).all()


def test_left_out_keeps_the_unit_of_the_values() -> None:
    """Scale and centre change the unit of the predictions and not how good they are."""
    process = held()
    other = GaussianProcess(CUBE, 100 + 7 * VALUES, centre=100.0, scale=7.0, settings=process.settings)
    assert other.left_out().predicted == pytest.approx(100 + 7 * process.left_out().predicted)
    assert other.left_out().deviation == pytest.approx(7 * process.left_out().deviation)
    assert other.left_out().q2 == pytest.approx(process.left_out().q2)


def test_a_fit_finds_which_parameters_matter_and_how_much_noise_there_is() -> None:
    """One parameter of three moves the values: the others are given long scales; the noise is found."""
    random = np.random.default_rng(6)
    cube = random.random((60, 3))
    noise = 0.1
    values = np.sin(6 * cube[:, 1]) + noise * random.standard_normal(60)
    process = fit_process(cube, values, smoothness=(2.5,))
    assert process.settings.converged
    lengths = process.settings.lengths
    assert lengths[1] < 1
    assert min(lengths[0], lengths[2]) > 5 * lengths[1]
    assert process.predict(cube).noise == pytest.approx(noise, rel=0.35)


def test_the_smoothness_with_the_smaller_error_is_kept() -> None:
    """Of the two kernels that are tried, the one whose runs predict each other better."""
    process = fit_process(CUBE, VALUES)
    errors = {one: fit_process(CUBE, VALUES, (one,)).left_out().error for one in (2.5, 1.5)}
    assert process.left_out().error == pytest.approx(min(errors.values()))
    assert process.settings.smoothness == min(errors, key=lambda one: errors[one])
    assert (process.settings.lengths >= LENGTHS[0]).all()
    assert (process.settings.lengths <= LENGTHS[1] * (1 + 1e-9)).all()
