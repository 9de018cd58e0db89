"""A Gaussian process and the likelihood that its scales are found by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.errors import SettingsError
from correlate.extras import need_extra

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class LeaveOneOut:
    """Predictions of runs by the other runs.

    Attributes
    ----------
    rated
        What the runs were worth, shape ``(n,)``.
    predicted
        What the others said of each, shape ``(n,)``.
    deviation
        Standard deviation of what they said, shape ``(n,)``.
    """

    rated: Floats
    predicted: Floats
    deviation: Floats

    @property
    def error(self) -> float:
        """Root of the mean square of the errors, in the unit of the outcome."""
        return float(np.sqrt(np.mean((self.rated - self.predicted) ** 2)))

    @property
    def q2(self) -> float:
        r"""Share of the variance that the others predict.

        .. math:: Q^2 = 1 - \frac{\sum_i (y_i - \hat y_{-i})^2}{\sum_i (y_i - \bar y)^2}

        1 is perfect, 0 no better than the mean, negative worse; nan when all runs are worth the same.
        """
        if np.ptp(self.rated) == 0:
            return float("nan")
        spread = float(np.sum((self.rated - self.rated.mean()) ** 2))
        return 1.0 - float(np.sum((self.rated - self.predicted) ** 2)) / spread


def leave_one_out(covariance: Floats, values: Floats, *, centre: float = 0.0) -> LeaveOneOut:
    r"""Predict every value from the others, without fitting again.

    .. math::

        \hat y_{-i} = y_i - \frac{[K^{-1} (y - c)]_i}{[K^{-1}]_{ii}}, \qquad
        \sigma^2_{-i} = \frac{1}{[K^{-1}]_{ii}}

    Parameters
    ----------
    covariance
        Of the values, noise included, shape ``(n, n)``, symmetric and positive definite.
    values
        Shape ``(n,)``.
    centre
        Mean of the process.

    Returns
    -------
    LeaveOneOut
        With the covariance and the centre held, as all n runs set them; the errors are a little smaller than
        those of n fits from scratch.

    Raises
    ------
    SettingsError
        The shapes do not fit, or the covariance is not positive definite.

    References
    ----------
    .. [1] Rasmussen, Williams, Gaussian Processes for Machine Learning, MIT Press 2006, eq. 5.12 (number from
       memory). Deviation: the centre.

    Examples
    --------
    Two values of unit variance and correlation 0.5: each predicts half of the other.

    >>> import numpy as np
    >>> said = leave_one_out(np.array([[1.0, 0.5], [0.5, 1.0]]), np.array([2.0, 4.0]))
    >>> said.predicted.round(12).tolist(), said.deviation.round(6).tolist()
    ([2.0, 1.0], [0.866025, 0.866025])
    """
    if covariance.shape != (values.size, values.size):
        raise SettingsError(
            f"a covariance of shape {covariance.shape} does not fit {values.size} values",
            remedy="give one row and one column per value",
        )
    try:
        lower = np.linalg.cholesky(covariance)
    except np.linalg.LinAlgError:
        raise SettingsError(
            "the covariance is not positive definite", remedy="allow for noise, or remove repeated points"
        ) from None
    half = np.linalg.solve(lower, np.eye(values.size))
    inverse = half.T @ half
    diagonal = np.diag(inverse)
    return LeaveOneOut(
        rated=values,
        predicted=values - inverse @ (values - centre) / diagonal,
        deviation=np.sqrt(1.0 / diagonal),
    )


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Prediction:
    """What is expected at points.

    Attributes
    ----------
    mean
        Shape ``(n,)``.
    deviation
        Standard deviation of what is not known of the mean, shape ``(n,)``; of a sum of parts, as if the
        errors of the parts had nothing to do with each other.
    bound
        The largest that it can be, however the errors of the parts go together, shape ``(n,)``.
    noise
        Standard deviation of one run about its mean.
    """

    mean: Floats
    deviation: Floats
    bound: Floats
    noise: float

    @property
    def run_deviation(self) -> Floats:
        """Standard deviation of a new run by the bound, shape ``(n,)``; printed intervals are made of it."""
        return np.hypot(self.bound, self.noise)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ProcessSettings:
    """What the likelihood set.

    Attributes
    ----------
    kernel
        Of scikit-learn, without noise.
    noise
        Variance, as a share of the variance of the values.
    smoothness
        Of the Matérn kernel.
    lengths
        Length scales in sides of the cube, shape ``(d,)``.
    converged
        Whether the search for the settings came to an end by itself.
    """

    kernel: Any
    noise: float
    smoothness: float
    lengths: Floats
    converged: bool


class GaussianProcess:
    """A process conditioned on values.

    Parameters
    ----------
    cube
        Points of the unit cube, shape ``(n, d)``.
    values
        There, shape ``(n,)``.
    centre, scale
        Of the values the settings were made with: the mean of the process, and its unit.
    settings
        Of the process.
    """

    def __init__(
        self, cube: Floats, values: Floats, *, centre: float, scale: float, settings: ProcessSettings
    ) -> None:
        from scipy.linalg import cho_solve  # noqa: PLC0415 - slow to import

        self.cube = cube
        self.values = values
        self.centre = centre
        self.scale = scale
        self.settings = settings
        self._covariance = np.asarray(settings.kernel(cube) + settings.noise * np.eye(values.size))
        self._lower = np.linalg.cholesky(self._covariance)
        self._weights = np.asarray(cho_solve((self._lower, True), (values - centre) / scale))

    def predict(self, cube: Floats) -> Prediction:
        """Predict at points of the unit cube, shape ``(m, d)``."""
        from scipy.linalg import solve_triangular  # noqa: PLC0415

        across = self.settings.kernel(cube, self.cube)
        half = solve_triangular(self._lower, across.T, lower=True)
        left = np.maximum(self.settings.kernel.diag(cube) - np.sum(half**2, axis=0), 0.0)
        deviation = self.scale * np.sqrt(left)
        return Prediction(
            mean=self.centre + self.scale * (across @ self._weights),
            deviation=deviation,
            bound=deviation,
            noise=self.scale * float(np.sqrt(self.settings.noise)),
        )

    def mean(self, cube: Floats) -> Floats:
        """Predict the mean alone, which costs much less."""
        return np.asarray(self.centre + self.scale * (self.settings.kernel(cube, self.cube) @ self._weights))

    def believing(self, cube: Floats) -> GaussianProcess:
        """Return the process as if its mean had been found at further points, shape ``(m, d)``.

        References
        ----------
        .. [1] The believer of Ginsbourger, Le Riche, Carraro, "Kriging is well-suited to parallelize
           optimization", Computational Intelligence in Expensive Optimization Problems, Springer 2010.
        """
        return GaussianProcess(
            np.vstack([self.cube, cube]),
            np.append(self.values, self.mean(cube)),
            centre=self.centre,
            scale=self.scale,
            settings=self.settings,
        )

    def left_out(self) -> LeaveOneOut:
        """Predict each of its own values from the others."""
        said = leave_one_out(self._covariance, (self.values - self.centre) / self.scale)
        return LeaveOneOut(
            rated=self.values,
            predicted=self.centre + self.scale * said.predicted,
            deviation=self.scale * said.deviation,
        )


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
