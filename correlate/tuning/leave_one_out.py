"""What a Gaussian process says of each run when that run is left out, in closed form."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.errors import SettingsError

if TYPE_CHECKING:
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
