"""How much better than the best run a point can be expected to be."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def expected_improvement(mean: Floats, deviation: Floats, best: float) -> Floats:
    r"""Return the expected improvement over the best value when more is better.

    .. math:: E[\max(f - f^*, 0)] = \sigma (\varphi(z) + z \Phi(z)), \qquad z = (\mu - f^*) / \sigma

    Parameters
    ----------
    mean, deviation
        Of the normal guess, shape ``(n,)``; a deviation of 0 is a certain guess.
    best
        Value to beat.

    Returns
    -------
    numpy.ndarray
        Shape ``(n,)``, in the unit of the mean, 0 or more.

    References
    ----------
    .. [1] Jones, Schonlau, Welch, Journal of Global Optimization 13 (1998) 455-492, eq. 15 (number from
       memory). Deviation: maximises.

    Examples
    --------
    >>> import numpy as np
    >>> expected_improvement(np.array([1.0, 3.0]), np.array([1.0, 0.0]), 1.0).round(6).tolist()
    [0.398942, 2.0]
    """
    certain = np.maximum(mean - best, 0.0)
    return np.where(deviation > 0, np.exp(log_expected_improvement(mean, deviation, best)), certain)


def log_expected_improvement(mean: Floats, deviation: Floats, best: float) -> Floats:
    r"""Return its natural logarithm, right even where the improvement itself would round to 0.

    .. math:: \ln \sigma + \ln \varphi(z) + \ln(1 + z \, \Phi(z) / \varphi(z))

    Parameters
    ----------
    mean, deviation, best
        As for :func:`expected_improvement`.

    Returns
    -------
    numpy.ndarray
        Shape ``(n,)``; very low, but finite, where a certain guess is no improvement.

    References
    ----------
    .. [1] The idea: Ament, Daulton, Eriksson, Balandat, Bakshy, "Unexpected improvements to expected
       improvement for Bayesian optimization", NeurIPS 2023. The form with the scaled complementary error
       function is derived here.
    """
    from scipy.special import erfcx, log_ndtr  # noqa: PLC0415 - slow to import

    # A certain guess is given the least deviation that keeps the quotient finite.
    sigma = np.maximum(deviation, 1e-12)
    z = (mean - best) / sigma
    low, high = np.minimum(z, 0.0), np.maximum(z, 0.0)
    mills = np.sqrt(np.pi / 2) * erfcx(-low / np.sqrt(2))
    # Far down the two terms cancel to rounding; there the first term of the series is exact enough.
    tail = np.where(low > -1e5, 1 + low * mills, 1 / np.maximum(low**2, 1.0))
    below = -0.5 * low**2 - 0.5 * np.log(2 * np.pi) + np.log(tail)
    above = np.log(np.exp(-0.5 * high**2) / np.sqrt(2 * np.pi) + high * np.exp(log_ndtr(high)))
    return np.asarray(np.log(sigma) + np.where(z < 0, below, above))


def log_chance_above(mean: Floats, deviation: Floats, least: float) -> Floats:
    """Return the natural logarithm of the chance that a normal guess is at least a value.

    Parameters
    ----------
    mean, deviation
        Of the guess, shape ``(n,)``.
    least
        The value.

    Returns
    -------
    numpy.ndarray
        Shape ``(n,)``, 0 or less.
    """
    from scipy.special import log_ndtr  # noqa: PLC0415 - slow to import

    return np.asarray(log_ndtr((mean - least) / np.maximum(deviation, 1e-12)))
