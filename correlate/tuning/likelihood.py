"""Settings of a Gaussian process: the likeliest, with the smoothness that leaves the least error."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.extras import need_extra
from correlate.tuning.gaussian_process import GaussianProcess, ProcessSettings

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SMOOTHNESS: Final = (2.5, 1.5)
"""Smoothness of the Matérn kernels that are tried."""
LENGTHS: Final = (0.05, 50.0)
"""Shortest and longest length scale, in sides of the cube."""
NOISE: Final = (1e-6, 1.0)
"""Least and most noise, as a share of the variance of the values."""
SIZES: Final = (1e-2, 1e2)
"""Least and most variance of the process, as a multiple of the variance of the values."""
FIRST_LENGTHS: Final = (0.7, 2.5)
"""Length scales that the search starts from, one search each."""


def fit_process(cube: Floats, values: Floats, smoothness: Sequence[float] = SMOOTHNESS) -> GaussianProcess:
    r"""Fit a process with a length scale for each parameter, and noise.

    The settings maximise the likelihood times a broad prior on the length scales,
    :math:`\ln \ell \sim N(\sqrt 2 + \ln\sqrt d, 3)`, taken as a density of :math:`\ell`, which keeps
    parameters that the runs say nothing of from being given short ones.

    Parameters
    ----------
    cube
        Points of the unit cube, shape ``(n, d)``.
    values
        There, shape ``(n,)``, not all equal.
    smoothness
        Kernels to choose from by leave-one-out error.

    Returns
    -------
    GaussianProcess

    References
    ----------
    .. [1] Rasmussen, Williams, Gaussian Processes for Machine Learning, MIT Press 2006, chapters 4 and 5.
    .. [2] Prior: Hvarfner, Hellsten, Nardi, "Vanilla Bayesian optimization performs great in high
       dimensions", ICML 2024 (from memory).
    """
    fitted = [_fit(cube, values, one) for one in smoothness]
    return min(fitted, key=lambda process: process.left_out().error)


def _fit(cube: Floats, values: Floats, smoothness: float) -> GaussianProcess:
    need_extra("tuning", what="a fit")
    from sklearn.gaussian_process import GaussianProcessRegressor  # noqa: PLC0415 - slow to import
    from sklearn.gaussian_process.kernels import ConstantKernel, Matern, WhiteKernel  # noqa: PLC0415

    lengths = np.ones(cube.shape[1])
    kernel = ConstantKernel(1.0, SIZES) * Matern(lengths, LENGTHS, nu=smoothness) + WhiteKernel(1e-3, NOISE)
    # The library's own search only warns when it stops early; the one below says so in the result.
    regressor = GaussianProcessRegressor(kernel, optimizer=None, normalize_y=True)
    regressor.fit(cube, values)
    found, converged = _likeliest(regressor)
    best = regressor.kernel_.clone_with_theta(found)
    settings = ProcessSettings(
        kernel=best.k1,
        noise=float(best.k2.noise_level),
        smoothness=smoothness,
        lengths=np.broadcast_to(np.asarray(best.k1.k2.length_scale), (cube.shape[1],)).copy(),
        converged=converged,
    )
    centre, scale = float(values.mean()), float(values.std())
    return GaussianProcess(cube, values, centre=centre, scale=scale, settings=settings)


def _likeliest(regressor: Any) -> tuple[Floats, bool]:
    """Search from several starts; return the logarithms of the settings, and whether the best one ended."""
    from scipy.optimize import minimize  # noqa: PLC0415 - slow to import

    kernel = regressor.kernel_
    dimension = kernel.theta.size - 2
    centre, variance = np.sqrt(2.0) + 0.5 * np.log(dimension), 3.0

    def cost(theta: Floats) -> tuple[float, Floats]:
        likelihood, slope = regressor.log_marginal_likelihood(theta, eval_gradient=True, clone_kernel=False)
        away = theta[1:-1] - centre
        slope = -slope
        slope[1:-1] += away / variance + 1.0
        doubt = 0.5 * float(np.sum(away**2)) / variance + float(np.sum(theta[1:-1]))
        return doubt - likelihood, slope

    ends = []
    for length in FIRST_LENGTHS:
        start = np.concatenate([[0.0], np.full(dimension, np.log(length)), [np.log(1e-3)]])
        ends.append(minimize(cost, start, jac=True, method="L-BFGS-B", bounds=kernel.bounds))
    best = min(ends, key=lambda end: float(end.fun))
    return np.asarray(best.x), bool(best.success)
