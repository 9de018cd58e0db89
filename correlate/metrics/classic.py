"""Classic measures of a pair: one function each."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import SignalError
from correlate.metrics.inner_products import inner_products, reference_peak, unit_vector

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.pair import AlignedPair


ACCEPTED: Final = 0.40
"""Largest magnitude, phase and comprehensive error accepted in roadside-safety practice (NCHRP Web-Only
Document 179, 2010, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class SpragueGeers:
    """Error factors.

    Attributes
    ----------
    magnitude
        In [-1, inf): 0.2 means 20 % too large.
    phase
        In [0, 1]: 0 for scaled copies, 1 for a turned sign.
    comprehensive
        Root of the sum of squares of both, 0 is perfect.
    """

    magnitude: float
    phase: float
    comprehensive: float

    @property
    def accepted(self) -> bool:
        """Whether all three are within :data:`ACCEPTED`."""
        return max(abs(self.magnitude), self.phase, self.comprehensive) <= ACCEPTED


def sprague_geers(pair: AlignedPair) -> SpragueGeers:
    r"""Split the disagreement of two curves into magnitude and phase.

    .. math:: M = \sqrt{\frac{\sum c^2}{\sum r^2}} - 1, \qquad
              P = \frac{1}{\pi} \arccos \frac{\sum r c}{\sqrt{\sum r^2 \sum c^2}}, \qquad
              C = \sqrt{M^2 + P^2}

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, shape ``(n,)``.

    Returns
    -------
    SpragueGeers

    Raises
    ------
    SignalError
        The reference or the candidate is zero throughout.

    References
    ----------
    .. [1] Sprague, Geers, Shock and Vibration 11 (2004), from memory. Integrals over time are sums over
       samples here: the constant step cancels.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate.pair import AlignedPair
    >>> curve = np.array([0.0, 1.0, 2.0, 1.0, 0.0])
    >>> found = sprague_geers(AlignedPair(time=np.arange(5.0), reference=curve, candidate=1.2 * curve))
    >>> round(found.magnitude, 12), round(found.phase, 12)
    (0.2, 0.0)
    """
    products = inner_products(pair)
    magnitude, phase = products.ratio - 1.0, products.angle / math.pi
    return SpragueGeers(magnitude=magnitude, phase=phase, comprehensive=math.hypot(magnitude, phase))


ARRIVAL_SHARE: Final = 0.05
"""A curve has arrived when it first reaches this share of its own peak (choice made here)."""
EXPONENT: Final = 2.0
"""Power of the weight of a sample by its size (choice made here)."""
_ROUNDING: Final = 1e-9


@dataclass(frozen=True, slots=True, kw_only=True)
class KnowlesGear:
    """Errors of size and of arrival.

    Attributes
    ----------
    magnitude
        Weighted relative error once both curves arrive together; 0 is perfect.
    arrival
        Difference of the times of arrival over that of the reference; 0 is perfect.
    combined
        0 is perfect.
    reference_arrival_s, candidate_arrival_s
        Times of arrival from the begin of the interval, s.
    """

    magnitude: float
    arrival: float
    combined: float
    reference_arrival_s: float
    candidate_arrival_s: float


def knowles_gear(pair: AlignedPair) -> KnowlesGear:
    r"""Compare arrival, and size after arrival.

    .. math:: M = \sqrt{\frac{\sum Q_i (\tilde c_i / r_i - 1)^2}{\sum Q_i}}, \quad
              Q_i = \left(\frac{|r_i|}{r_\max}\right)^p, \qquad
              A = \frac{|t_c - t_r|}{t_r}, \qquad C = \sqrt{\frac{10 M^2 + 2 A^2}{12}}

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate, shape ``(n,)``; :math:`\tilde c` is the candidate moved so that
        both arrive together.

    Returns
    -------
    KnowlesGear

    Raises
    ------
    SignalError
        A curve is zero throughout, or the reference has arrived in its first sample while the candidate has
        not.

    Notes
    -----
    Choices made here: :math:`p = 2`, with which the sum stays finite where the reference crosses zero (with 1
    it grows beyond bounds); arrival at 5 % of each curve's own peak, on a straight line between samples;
    samples that the move carries outside the interval do not count.

    References
    ----------
    .. [1] Knowles, Gear, "Revised validation metric" (2004), as given in Schwer, "Validation metrics for
       response histories: perspectives and case studies", Engineering with Computers 23 (2007); from memory.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate.pair import AlignedPair
    >>> curve = np.array([0.0, 0.0, 1.0, 2.0, 1.0, 0.0])
    >>> found = knowles_gear(AlignedPair(time=np.arange(6.0), reference=curve, candidate=1.2 * curve))
    >>> round(found.magnitude, 12), found.arrival, round(found.combined, 4)
    (0.2, 0.0, 0.1826)
    """
    peak = reference_peak(pair)
    step_s = pair.step_s
    arrival_r = _arrival(pair.reference, "reference") * step_s
    arrival_c = _arrival(pair.candidate, "candidate") * step_s
    magnitude = _magnitude(pair, (arrival_c - arrival_r) / step_s, peak)
    arrival = _relative(arrival_c, arrival_r)
    return KnowlesGear(
        magnitude=magnitude,
        arrival=arrival,
        combined=math.sqrt((10.0 * magnitude**2 + 2.0 * arrival**2) / 12.0),
        reference_arrival_s=arrival_r,
        candidate_arrival_s=arrival_c,
    )


def _arrival(curve: NDArray[np.float64], name: str) -> float:
    """Return when a curve first reaches its share of its peak, in samples."""
    size = np.abs(curve)
    level = ARRIVAL_SHARE * float(size.max())
    if level == 0.0:
        raise SignalError(f"the {name} is zero throughout, so it never arrives", remedy="check the channel")
    after = int(np.argmax(size >= level))
    if after == 0:
        return 0.0
    below = float(size[after - 1])
    return after - 1 + (level - below) / (float(size[after]) - below)


def _relative(candidate_s: float, reference_s: float) -> float:
    if candidate_s == reference_s:
        return 0.0
    if reference_s == 0.0:
        raise SignalError(
            "the reference has arrived in its first sample, so no error of arrival can be given",
            remedy="begin the interval before the event",
        )
    return abs(candidate_s - reference_s) / reference_s


def _magnitude(pair: AlignedPair, delay: float, peak: float) -> float:
    """Return the weighted relative error with the candidate moved by its delay, in samples."""
    index = np.arange(len(pair)) + delay
    # The sample with which the reference arrives always stays inside, but for rounding.
    inside = (index >= -_ROUNDING) & (index <= len(pair) - 1 + _ROUNDING) & (pair.reference != 0)
    reference = pair.reference[inside] / peak
    moved = np.interp(index[inside], np.arange(len(pair)), pair.candidate) / peak
    weights = np.abs(reference) ** EXPONENT
    errors = np.abs(reference) ** (EXPONENT - 2.0) * (moved - reference) ** 2
    return math.sqrt(float(errors.sum()) / float(weights.sum()))


@dataclass(frozen=True, slots=True, kw_only=True)
class Russell:
    """Error factors.

    Attributes
    ----------
    magnitude
        In (-inf, inf), 0 is perfect; positive when the candidate is too large.
    phase
        In [0, 1]: 0 for scaled copies, 1 for a turned sign.
    comprehensive
        0 is perfect.
    """

    magnitude: float
    phase: float
    comprehensive: float


def russell(pair: AlignedPair) -> Russell:
    r"""Split the disagreement of two curves into magnitude and phase.

    .. math:: m = \frac{\sum c^2 - \sum r^2}{\sqrt{\sum r^2 \sum c^2}}, \qquad
              M = \mathrm{sign}(m) \log_{10}(1 + |m|), \qquad
              P = \frac{1}{\pi} \arccos \frac{\sum r c}{\sqrt{\sum r^2 \sum c^2}}, \qquad
              C = \sqrt{\tfrac{\pi}{4} (M^2 + P^2)}

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, shape ``(n,)``.

    Returns
    -------
    Russell

    Raises
    ------
    SignalError
        The reference or the candidate is zero throughout.

    References
    ----------
    .. [1] Russell, "Error measures for comparing transient data, part I: development of a comprehensive error
       measure", 68th Shock and Vibration Symposium (1997), from memory.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate.pair import AlignedPair
    >>> curve = np.array([0.0, 1.0, 2.0, 1.0, 0.0])
    >>> twice = russell(AlignedPair(time=np.arange(5.0), reference=curve, candidate=2 * curve))
    >>> half = russell(AlignedPair(time=np.arange(5.0), reference=2 * curve, candidate=curve))
    >>> round(twice.magnitude, 6), round(half.magnitude, 6)
    (0.39794, -0.39794)
    """
    products = inner_products(pair)
    size = products.ratio - 1.0 / products.ratio
    magnitude = math.copysign(math.log10(1.0 + abs(size)), size)
    phase = products.angle / math.pi
    comprehensive = math.sqrt(math.pi / 4.0) * math.hypot(magnitude, phase)
    return Russell(magnitude=magnitude, phase=phase, comprehensive=comprehensive)


@dataclass(frozen=True, slots=True, kw_only=True)
class Theil:
    """Inequality of two curves.

    Attributes
    ----------
    inequality
        In [0, 1]: 0 for equal curves, 1 for a turned sign or a candidate of zeros.
    """

    inequality: float


def theil(pair: AlignedPair) -> Theil:
    r"""Return the norm of the difference over the sum of the norms.

    .. math:: U = \frac{\sqrt{\sum (c - r)^2}}{\sqrt{\sum c^2} + \sqrt{\sum r^2}}

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, shape ``(n,)``.

    Returns
    -------
    Theil

    Raises
    ------
    SignalError
        The reference is zero throughout.

    References
    ----------
    .. [1] Theil, "Economic forecasts and policy" (1961), inequality coefficient, from memory.

    Examples
    --------
    >>> from correlate.pair import AlignedPair
    >>> theil(AlignedPair(time=[0, 1], reference=[3, 4], candidate=[-3, -4])).inequality
    1.0
    """
    peak = reference_peak(pair)
    reference, candidate = pair.reference / peak, pair.candidate / peak
    sizes = float(np.linalg.norm(candidate)) + float(np.linalg.norm(reference))
    return Theil(inequality=min(1.0, float(np.linalg.norm(candidate - reference)) / sizes))


@dataclass(frozen=True, slots=True, kw_only=True)
class Pearson:
    """Linear correlation.

    Attributes
    ----------
    correlation
        In [-1, 1], 1 when the candidate is the reference times a positive number plus an offset.
    """

    correlation: float


def pearson(pair: AlignedPair) -> Pearson:
    r"""Return the correlation of the samples.

    .. math:: \rho = \frac{\sum (r - \bar r)(c - \bar c)}{\sqrt{\sum (r - \bar r)^2 \sum (c - \bar c)^2}}

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, shape ``(n,)``.

    Returns
    -------
    Pearson

    Raises
    ------
    SignalError
        One of the curves is constant.

    References
    ----------
    .. [1] Pearson 1895; any textbook of statistics.

    Examples
    --------
    >>> from correlate.pair import AlignedPair
    >>> pair = AlignedPair(time=[0, 1, 2], reference=[0, 1, 2], candidate=[5, 3, 1])
    >>> round(pearson(pair).correlation, 12)
    -1.0
    """
    product = float(_standard(pair.reference, "reference") @ _standard(pair.candidate, "candidate"))
    return Pearson(correlation=float(np.clip(product, -1.0, 1.0)))


def _standard(curve: NDArray[np.float64], name: str) -> NDArray[np.float64]:
    """Return the deviations from the mean as a vector of length 1."""
    if np.ptp(curve) == 0.0:
        raise SignalError(
            f"the {name} is constant throughout the interval, so it correlates with nothing",
            remedy="check the channel and the interval of evaluation",
        )
    deviation = (curve - curve.mean()) / np.ptp(curve)
    return np.asarray(deviation / np.linalg.norm(deviation), dtype=np.float64)


@dataclass(frozen=True, slots=True, kw_only=True)
class CrossCorrelation:
    """Best correlation and the shift that gives it.

    Attributes
    ----------
    correlation
        In [-1, 1], 1 for a scaled and shifted copy.
    delay_samples, delay_s
        Positive when the candidate is late.
    """

    correlation: float
    delay_samples: int
    delay_s: float


def cross_correlation(pair: AlignedPair) -> CrossCorrelation:
    r"""Return the largest normalised cross-correlation; outside the interval both curves count as zero.

    .. math:: \rho = \max_m \frac{\sum_i r_i\, c_{i+m}}{\sqrt{\sum r^2 \sum c^2}}, \qquad |m| < n

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, shape ``(n,)``.

    Returns
    -------
    CrossCorrelation
        Of equal correlations, to rounding, that of the smallest shift counts, and of those the late one.

    Raises
    ------
    SignalError
        A curve is zero throughout.

    References
    ----------
    .. [1] Normalised cross-correlation; any textbook of signal processing. No mean is removed (choice made
       here): an impact signal rests at zero.

    Examples
    --------
    >>> from correlate.pair import AlignedPair
    >>> pair = AlignedPair(time=[0, 1, 2, 3], reference=[0, 1, 0, 0], candidate=[0, 0, 3, 0])
    >>> found = cross_correlation(pair)
    >>> round(found.correlation, 12), found.delay_samples
    (1.0, 1)
    """
    from scipy.fft import irfft, next_fast_len, rfft  # noqa: PLC0415 - keeps the import of correlate quick

    reference, _ = unit_vector(pair.reference, "reference")
    candidate, _ = unit_vector(pair.candidate, "candidate")
    size = len(pair)
    length = next_fast_len(2 * size - 1, real=True)
    circular = irfft(np.conj(rfft(reference, length)) * rfft(candidate, length), length)
    values = np.concatenate([circular[length - size + 1 :], circular[:size]])
    delays = np.arange(1 - size, size)
    tied = delays[values >= values.max() - 1e-12]
    delay = min((int(one) for one in tied), key=lambda one: (abs(one), -one))
    correlation = float(np.clip(values[delay + size - 1], -1.0, 1.0))
    return CrossCorrelation(correlation=correlation, delay_samples=delay, delay_s=delay * pair.step_s)


@dataclass(frozen=True, slots=True, kw_only=True)
class NormalisedRms:
    """Root mean square error.

    Attributes
    ----------
    error
        Over the range of the reference; 0 is perfect.
    root_mean_square
        In the unit of the curves.
    """

    error: float
    root_mean_square: float


def normalised_rms(pair: AlignedPair) -> NormalisedRms:
    r"""Return the root mean square error over the range of the reference.

    .. math:: E = \frac{\sqrt{\frac{1}{n}\sum (c - r)^2}}{\max r - \min r}

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, shape ``(n,)``.

    Returns
    -------
    NormalisedRms

    Raises
    ------
    SignalError
        The reference is constant.

    References
    ----------
    .. [1] Common practice, no source; dividing by the range is a choice made here.

    Examples
    --------
    >>> from correlate.pair import AlignedPair
    >>> normalised_rms(AlignedPair(time=[0, 1], reference=[0, 10], candidate=[1, 11])).error
    0.1
    """
    extent = float(np.ptp(pair.reference))
    if extent == 0.0:
        raise SignalError(
            "the reference is constant throughout the interval, so it has no range to measure against",
            remedy="check the channel and the interval of evaluation",
        )
    difference = (pair.candidate - pair.reference) / extent
    error = math.sqrt(float(np.mean(difference**2)))
    return NormalisedRms(error=error, root_mean_square=error * extent)


ACCEPTED_MEAN: Final = 0.05
"""Largest absolute mean accepted in roadside-safety practice (NCHRP Web-Only Document 179, from memory)."""
ACCEPTED_DEVIATION: Final = 0.35
"""Largest standard deviation accepted there (same source, from memory)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Residual:
    """Analysis of variance of the error.

    Attributes
    ----------
    mean
        Mean residual over the reference's peak; positive when the candidate is too large, 0 is perfect.
    deviation
        Standard deviation of the residual over the reference's peak; 0 is perfect.
    """

    mean: float
    deviation: float

    @property
    def accepted(self) -> bool:
        """Whether both are within :data:`ACCEPTED_MEAN` and :data:`ACCEPTED_DEVIATION`."""
        return abs(self.mean) <= ACCEPTED_MEAN and self.deviation <= ACCEPTED_DEVIATION


def residual(pair: AlignedPair) -> Residual:
    r"""Return mean and standard deviation of the residuals.

    .. math:: e_i = \frac{c_i - r_i}{\max |r|}, \qquad \bar e = \frac{1}{n} \sum e_i, \qquad
              \sigma = \sqrt{\frac{\sum (e_i - \bar e)^2}{n - 1}}

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, shape ``(n,)``.

    Returns
    -------
    Residual

    Raises
    ------
    SignalError
        The reference is zero throughout.

    References
    ----------
    .. [1] Ray, "Repeatability of full-scale crash tests and criteria for validating simulation results",
       Transportation Research Record 1528 (1996); NCHRP Web-Only Document 179 (2010). From memory; the
       sign of the residual is turned here, so that too large is positive.

    Examples
    --------
    >>> from correlate.pair import AlignedPair
    >>> found = residual(AlignedPair(time=[0, 1, 2], reference=[0, 10, 0], candidate=[1, 11, 1]))
    >>> round(found.mean, 12), found.deviation < 1e-12
    (0.1, True)
    """
    errors = (pair.candidate - pair.reference) / reference_peak(pair)
    return Residual(mean=float(errors.mean()), deviation=float(errors.std(ddof=1)))


@dataclass(frozen=True, slots=True, kw_only=True)
class WeightedIntegratedFactor:
    """Agreement of two curves.

    Attributes
    ----------
    factor
        In [0, 1], 1 for equal curves, 0 where the signs are opposite throughout.
    """

    factor: float


def weighted_integrated_factor(pair: AlignedPair) -> WeightedIntegratedFactor:
    r"""Average, weighted by size, how far the smaller of two values falls short of the larger.

    .. math:: F = 1 - \sqrt{\frac{\sum \max(r^2, c^2)
              \left(1 - \frac{\max(0,\, r c)}{\max(r^2, c^2)}\right)^2}{\sum \max(r^2, c^2)}}

    Parameters
    ----------
    pair
        Reference :math:`r` and candidate :math:`c`, shape ``(n,)``.

    Returns
    -------
    WeightedIntegratedFactor

    Raises
    ------
    SignalError
        The reference is zero throughout.

    References
    ----------
    .. [1] Hovenga, Spit, Uijldert, Dalenoort, SAE 2005-01-1307, "weighted integrated factor", from memory. A
       sample at which both are zero agrees and weighs nothing.

    Examples
    --------
    >>> from correlate.pair import AlignedPair
    >>> pair = AlignedPair(time=[0, 1, 2], reference=[0, 2, 4], candidate=[0, 1, 2])
    >>> weighted_integrated_factor(pair).factor
    0.5
    """
    peak = reference_peak(pair)
    reference, candidate = pair.reference / peak, pair.candidate / peak
    weight = np.maximum(reference**2, candidate**2)
    counted = weight > 0
    shortfall = 1.0 - np.maximum(0.0, reference * candidate)[counted] / weight[counted]
    mean = float((weight[counted] * shortfall**2).sum() / weight.sum())
    return WeightedIntegratedFactor(factor=max(0.0, 1.0 - math.sqrt(mean)))
