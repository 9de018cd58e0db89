"""Magnitude and time of arrival after Knowles and Gear."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.errors import SignalError
from correlate.metrics.reference_size import reference_peak

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.pair import AlignedPair

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
