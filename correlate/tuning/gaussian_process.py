"""A Gaussian process and the likelihood that its scales are found by."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import SettingsError

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
        """Standard deviation of a new run by the bound, shape ``(n,)``; bands of surrogates show it."""
        return np.hypot(self.bound, self.noise)


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class ProcessSettings:
    """What the likelihood set.

    Attributes
    ----------
    size
        Variance of the process, as a multiple of the variance of the values.
    noise
        Variance, as a share of the variance of the values.
    smoothness
        Of the Matérn kernel: 2.5 or 1.5.
    lengths
        Length scales in sides of the cube, shape ``(d,)``.
    converged
        Whether the search for the settings came to an end by itself.
    """

    size: float
    noise: float
    smoothness: float
    lengths: Floats
    converged: bool

    def covariance(self, cube: Floats, other: Floats) -> Floats:
        """Return the covariance of the process, without noise, between points of the unit cube."""
        from scipy.spatial.distance import cdist  # noqa: PLC0415 - slow to import

        return self.size * matern(cdist(cube / self.lengths, other / self.lengths), self.smoothness)


def matern(distance: Floats, smoothness: float) -> Floats:
    r"""Return the correlation of a Matérn kernel at scaled distances.

    .. math::

        k_{3/2} = (1 + a) e^{-a}, \; a = \sqrt 3 r; \qquad
        k_{5/2} = (1 + a + a^2 / 3) e^{-a}, \; a = \sqrt 5 r

    Parameters
    ----------
    distance
        :math:`r`, in length scales, 0 or more, any shape.
    smoothness
        2.5 or 1.5.

    Returns
    -------
    numpy.ndarray
        In [0, 1], of the shape of the distances.

    References
    ----------
    .. [1] Rasmussen, Williams, Gaussian Processes for Machine Learning, MIT Press 2006, eq. 4.17 (number from
       memory).

    Examples
    --------
    >>> import numpy as np
    >>> matern(np.array([0.0, 1.0]), 2.5).round(6).tolist()
    [1.0, 0.523994]
    """
    scaled = np.sqrt(2 * smoothness) * distance
    terms = 1.0 + scaled if smoothness == 1.5 else 1.0 + scaled + scaled**2 / 3
    return np.asarray(terms * np.exp(-scaled))


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
        self._covariance = settings.covariance(cube, cube) + settings.noise * np.eye(values.size)
        self._lower = np.linalg.cholesky(self._covariance)
        self._weights = np.asarray(cho_solve((self._lower, True), (values - centre) / scale))

    def predict(self, cube: Floats) -> Prediction:
        """Predict at points of the unit cube, shape ``(m, d)``."""
        from scipy.linalg import solve_triangular  # noqa: PLC0415

        across = self.settings.covariance(cube, self.cube)
        half = solve_triangular(self._lower, across.T, lower=True)
        left = np.maximum(self.settings.size - np.sum(half**2, axis=0), 0.0)
        deviation = self.scale * np.sqrt(left)
        return Prediction(
            mean=self.centre + self.scale * (across @ self._weights),
            deviation=deviation,
            bound=deviation,
            noise=self.scale * float(np.sqrt(self.settings.noise)),
        )

    def mean(self, cube: Floats) -> Floats:
        """Predict the mean alone, which costs much less."""
        across = self.settings.covariance(cube, self.cube)
        return np.asarray(self.centre + self.scale * (across @ self._weights))

    def believing(self, cube: Floats) -> GaussianProcess:
        """Return the process as if its mean had been observed at further points, shape ``(m, d)``.

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
_IMPOSSIBLE: Final = 1e10
"""Cost of settings without a valid covariance."""


def fit_process(
    cube: Floats,
    values: Floats,
    smoothness: Sequence[float] = SMOOTHNESS,
    *,
    first_lengths: Sequence[float] = FIRST_LENGTHS,
) -> GaussianProcess:
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
    first_lengths
        Length scales that the search starts from, one search each.

    Returns
    -------
    GaussianProcess

    References
    ----------
    .. [1] Rasmussen, Williams, Gaussian Processes for Machine Learning, MIT Press 2006, chapters 4 and 5.
    .. [2] Prior: Hvarfner, Hellsten, Nardi, "Vanilla Bayesian optimization performs great in high
       dimensions", ICML 2024 (from memory).
    """
    squares = np.square(cube.T[:, :, None] - cube.T[:, None, :])
    centre, scale = float(values.mean()), float(values.std())
    standard = (values - centre) / scale
    fitted = [
        GaussianProcess(
            cube,
            values,
            centre=centre,
            scale=scale,
            settings=_likeliest(squares, standard, one, first_lengths),
        )
        for one in smoothness
    ]
    return min(fitted, key=lambda process: process.left_out().error) if len(fitted) > 1 else fitted[0]


def log_likelihood(squares: Floats, values: Floats, smoothness: float, theta: Floats) -> tuple[float, Floats]:
    """Return the logarithm of the likelihood of standardised values, and its gradient.

    Implemented here rather than taken from scikit-learn, whose gradients of a kernel with a length scale for
    each parameter take ten times as long; a fit of curves needs hundreds of processes.

    Parameters
    ----------
    squares
        Squared differences of the points, parameter by parameter, shape ``(d, n, n)``.
    values
        Shape ``(n,)``.
    smoothness
        2.5 or 1.5.
    theta
        Natural logarithms of size, length scales and noise, shape ``(d + 2,)``.

    Returns
    -------
    tuple of float and numpy.ndarray
        The gradient has the shape of ``theta``. Minus infinity if the covariance is not positive definite.

    References
    ----------
    .. [1] Rasmussen, Williams, Gaussian Processes for Machine Learning, MIT Press 2006, eq. 5.8 and 5.9
       (numbers from memory).
    """
    from scipy.linalg import lapack  # noqa: PLC0415 - slow to import

    size, noise = np.exp(theta[0]), np.exp(theta[-1])
    weights = np.exp(-2.0 * theta[1:-1])
    count = values.size
    flat = squares.reshape(len(weights), -1)
    scaled = np.sqrt(2 * smoothness * (weights @ flat)).reshape(count, count)
    falling = size * np.exp(-scaled)
    kernel = falling * (1.0 + scaled if smoothness == 1.5 else 1.0 + scaled + scaled**2 / 3)
    lower, failed = lapack.dpotrf(kernel + noise * np.eye(count), lower=1, clean=1)
    if failed:
        return -np.inf, np.zeros_like(theta)
    inverse, _ = lapack.dpotri(lower, lower=1)
    # Zero above the diagonal until now.
    inverse = inverse + inverse.T
    inverse.flat[:: count + 1] *= 0.5
    alpha = inverse @ values
    likelihood = -0.5 * float(values @ alpha) - np.log(np.diag(lower)).sum() - 0.5 * count * np.log(2 * np.pi)
    pull = np.outer(alpha, alpha) - inverse
    # Derivative by the logarithm of a length scale, without the squared difference over its square.
    rising = 3.0 * falling if smoothness == 1.5 else 5.0 / 3.0 * falling * (1.0 + scaled)
    slope = np.empty_like(theta)
    slope[0] = 0.5 * float(np.vdot(pull, kernel))
    slope[1:-1] = 0.5 * weights * (flat @ (pull * rising).ravel())
    slope[-1] = 0.5 * noise * float(np.trace(pull))
    return float(likelihood), slope


def _likeliest(
    squares: Floats, values: Floats, smoothness: float, first_lengths: Sequence[float]
) -> ProcessSettings:
    """Search the settings from several starts."""
    from scipy.optimize import minimize  # noqa: PLC0415 - slow to import

    dimension = len(squares)
    centre, variance = np.sqrt(2.0) + 0.5 * np.log(dimension), 3.0

    def cost(theta: Floats) -> tuple[float, Floats]:
        likelihood, slope = log_likelihood(squares, values, smoothness, theta)
        if not np.isfinite(likelihood):
            return _IMPOSSIBLE, slope
        away = theta[1:-1] - centre
        slope = -slope
        slope[1:-1] += away / variance + 1.0
        doubt = 0.5 * float(np.sum(away**2)) / variance + float(np.sum(theta[1:-1]))
        return doubt - likelihood, slope

    logarithms = np.log([SIZES, *([LENGTHS] * dimension), NOISE])
    bounds = [(float(low), float(high)) for low, high in logarithms]
    ends = []
    for length in first_lengths:
        start = np.concatenate([[0.0], np.full(dimension, np.log(length)), [np.log(1e-3)]])
        ends.append(minimize(cost, start, jac=True, method="L-BFGS-B", bounds=bounds))
    best = min(ends, key=lambda end: float(end.fun))
    found = np.exp(best.x)
    return ProcessSettings(
        size=float(found[0]),
        noise=float(found[-1]),
        smoothness=smoothness,
        lengths=found[1:-1],
        converged=bool(best.success),
    )
