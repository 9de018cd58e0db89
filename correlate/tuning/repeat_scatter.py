"""How tests scatter from repeat to repeat: a covariance of all channels of a load case over time."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.tuning.gaussian_process import matern

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from correlate.tuning.coarse_curves import CoarseChannel, CoarseCurves

    Floats = NDArray[np.float64]

UNKNOWN: Final = 0.05
"""Standard deviation of a test as a share of its size, where no channel has two repeats. Chosen here."""
PRIOR_REPEATS: Final = 4.0
"""Repeats that the smooth covariance counts as beside that of the repeats themselves. Chosen here."""
POOLED_REPEATS: Final = 1.0
"""Repeats that the scatter of the other channels counts as beside that of a channel. Chosen here."""
LENGTHS: Final = (0.02, 0.05, 0.1, 0.2, 0.4)
"""Lengths of the smooth covariance that are tried, as shares of the interval. Chosen here."""
EVEN_SHARE: Final = 0.25
"""Share of the variance that is the same at all times; the rest follows the repeats. Chosen here."""
SMOOTHED: Final = 0.1
"""Share of the interval over which the variance of the repeats is averaged. Chosen here."""
NUGGET: Final = 0.1
"""Share of the variance that has nothing to do with the time before. Chosen here."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class RepeatScatter:
    """Covariance of the mean of the tests, and what it was made of.

    Attributes
    ----------
    of_mean
        Of each load case, in the order of the vector of curves, shape ``(n, n)``, in shares of the sizes.
    of_one
        Standard deviation of one test, all load cases, shape ``(N,)``, in shares of the sizes.
    repeats
        Of each channel.
    """

    of_mean: tuple[Floats, ...]
    of_one: Floats
    repeats: tuple[int, ...]


def repeat_scatter(curves: CoarseCurves) -> RepeatScatter:
    r"""Estimate how the mean of the tests scatters.

    Few repeats say little of a covariance over hundreds of times. It is therefore a mean of two: that of the
    repeats, over all channels of a load case together (a harder impact raises them all), and a smooth one of
    each channel, :math:`s(t) s(t') \rho(|t - t'|)`, whose length is the most likely one. The weight of the
    repeats is :math:`(r - 1) / (r - 1 + 4)`. That the covariance is an estimate itself is allowed for by the
    square of the ratio of the 97.5 % quantiles of Student's distribution with :math:`r` degrees of freedom
    (one for the pooled variance) and of the normal one.

    Parameters
    ----------
    curves
        With their tests.

    Returns
    -------
    RepeatScatter

    Notes
    -----
    The variance of a channel is pooled with the mean of all that have two repeats or more, in shares of
    their sizes, which counts as one repeat; a channel with one repeat takes the pooled one. Where no channel
    has two, the standard deviation is taken to be ``UNKNOWN``.

    References
    ----------
    .. [1] A mean of the sample's covariance and a structured one: Ledoit, Wolf, "Improved estimation of the
       covariance matrix of stock returns", Journal of Empirical Finance 10 (2003) 603-621 (from memory).
       Deviation: the weight, that of an inverse Wishart prior.
    .. [2] Student's distribution for an estimated covariance: Sellentin, Heavens, "Parameter inference with
       estimated covariance matrices", Monthly Notices of the Royal Astronomical Society Letters 456 (2016)
       L132-L136 (from memory). Deviation: a normal one with its quantiles.
    """
    residuals = [one.tests - one.tests.mean(axis=0) for one in curves.channels]
    smooth = [
        _smooth_covariance(one, deviation)
        for one, deviation in zip(residuals, _deviations(residuals), strict=True)
    ]
    found = [
        _case_covariance(
            channels, [residuals[one.number] for one in channels], [smooth[one.number] for one in channels]
        )
        for channels in curves.load_cases.values()
    ]
    ones = [np.sqrt(np.diag(one)) for one in smooth]
    return RepeatScatter(
        of_mean=tuple(found), of_one=np.concatenate(ones), repeats=tuple(len(one) for one in residuals)
    )


def variances_of_mean(tests: Sequence[Floats]) -> Floats:
    """Return the variance of the mean of tests at each time, as in the covariance.

    Parameters
    ----------
    tests
        Of each channel, of several sets of tests, each of shape ``(m, r, t)``.

    Returns
    -------
    numpy.ndarray
        Shape ``(m, N)``.
    """
    residuals = [one - one.mean(axis=1, keepdims=True) for one in tests]
    found = []
    for left, deviation in zip(residuals, _deviations(residuals), strict=True):
        repeats = left.shape[1]
        weight = _weight(repeats)
        own = np.sum(left**2, axis=1) / max(repeats - 1, 1)
        found.append(_widening(repeats) * (weight * own + (1 - weight**2) * deviation**2) / repeats)
    return np.hstack(found)


def _weight(repeats: int) -> float:
    """Return the weight of the covariance of the repeats themselves."""
    return (repeats - 1) / (repeats - 1 + PRIOR_REPEATS)


def _widening(repeats: int) -> float:
    """Return by how much a variance from few repeats is too small for intervals of 95 %."""
    from scipy.special import ndtri, stdtrit  # noqa: PLC0415 - slow to import

    if repeats == 1:
        return 1.0  # assumed, not estimated
    return float((stdtrit(repeats - 1 + POOLED_REPEATS, _UPPER) / ndtri(_UPPER)) ** 2)


_UPPER: Final = 0.975


def _deviations(residuals: Sequence[Floats]) -> list[Floats]:
    """Return the standard deviation of one test of each channel: of shape ``(…, r, t)``, ``(…, t)``."""
    variances = [np.sum(one**2, axis=-2) / max(one.shape[-2] - 1, 1) for one in residuals]
    repeated = [
        one.mean(axis=-1) for one, left in zip(variances, residuals, strict=True) if left.shape[-2] > 1
    ]
    pooled = np.mean(repeated, axis=0) if repeated else np.full(variances[0].shape[:-1], UNKNOWN**2)
    pooled = np.where(pooled > 0, pooled, UNKNOWN**2)
    found = []
    for variance, left in zip(variances, residuals, strict=True):
        freedom = left.shape[-2] - 1
        mean = variance.mean(axis=-1)
        size = (mean * freedom + pooled * POOLED_REPEATS) / (freedom + POOLED_REPEATS)
        smooth = _smoothed(variance)
        level = smooth.mean(axis=-1)[..., None]
        shape = np.where(level > 0, smooth / np.where(level > 0, level, 1.0), 1.0)
        found.append(np.sqrt(size[..., None] * (EVEN_SHARE + (1 - EVEN_SHARE) * shape)))
    return found


def _smooth_covariance(residuals: Floats, deviation: Floats) -> Floats:
    """Return the smooth covariance of one test of a channel."""
    correlations = [_correlation(deviation.size, length) for length in LENGTHS]
    likely = [_log_likelihood(residuals / deviation, one) for one in correlations]
    place = int(np.argmax(likely)) if len(residuals) > 1 else len(LENGTHS) // 2
    return np.asarray(np.outer(deviation, deviation) * correlations[place])


def _smoothed(variance: Floats) -> Floats:
    from scipy.ndimage import uniform_filter1d  # noqa: PLC0415 - slow to import

    return np.asarray(
        uniform_filter1d(variance, max(1, round(SMOOTHED * variance.shape[-1])), mode="nearest")
    )


def _correlation(count: int, length: float) -> Floats:
    times = np.arange(count) / count
    away = np.abs(times[:, None] - times) / length
    return np.asarray((1 - NUGGET) * matern(away, 2.5) + NUGGET * np.eye(count))


def _log_likelihood(residuals: Floats, correlation: Floats) -> float:
    """Return the logarithm of the likelihood of deviations from their mean, but for a constant."""
    root = np.linalg.cholesky(correlation)
    white = np.linalg.solve(root, residuals.T)
    return float(-0.5 * np.sum(white**2) - (len(residuals) - 1) * np.log(np.diag(root)).sum())


def _case_covariance(
    channels: Sequence[CoarseChannel], residuals: Sequence[Floats], smooth: Sequence[Floats]
) -> Floats:
    """Return the covariance of the mean of the tests of a load case."""
    names = list(dict.fromkeys(name for channel in channels for name in channel.names))
    first, count = channels[0].place.start, channels[-1].place.stop - channels[0].place.start
    together, own = np.zeros((len(names), count)), np.zeros((count, count))
    for channel, left, covariance in zip(channels, residuals, smooth, strict=True):
        place = slice(channel.place.start - first, channel.place.stop - first)
        repeats = len(left)
        weight = _weight(repeats)
        whole = _widening(repeats) / repeats
        own[place, place] = (1 - weight**2) * whole * covariance
        if repeats > 1:
            rows = [names.index(name) for name in channel.names]
            together[rows, place] = left * np.sqrt(weight * whole / (repeats - 1))
    return np.asarray(own + together.T @ together)


def add_blocks(whole: Floats, channels: Sequence[CoarseChannel], blocks: Sequence[Floats]) -> Floats:
    """Return the covariance of a load case with that of each channel, by its number, added to its block."""
    found = whole.copy()
    first = channels[0].place.start
    for one in channels:
        place = slice(one.place.start - first, one.place.stop - first)
        found[place, place] += blocks[one.number]
    return found


def inverse_root(covariance: Floats) -> Floats:
    """Return the inverse of the lower root of a covariance, which may be singular but for rounding."""
    return np.asarray(np.linalg.inv(lower_root(covariance)))


def lower_root(covariance: Floats) -> Floats:
    """Return the lower root of a covariance, which may be singular but for rounding."""
    jitter = _ROUNDING * float(np.trace(covariance)) / len(covariance)
    return np.asarray(np.linalg.cholesky(covariance + jitter * np.eye(len(covariance))))


_ROUNDING: Final = 1e-10
