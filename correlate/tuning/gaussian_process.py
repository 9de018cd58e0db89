"""A Gaussian process on the unit cube, its settings held."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from correlate.tuning.leave_one_out import LeaveOneOut, leave_one_out

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


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
