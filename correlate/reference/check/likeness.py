"""How alike two recordings of one channel are: sign, gain, shift and stretch of the best match."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.display import short_repr
from correlate.units import parse_unit

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.reference.check.facts import ChannelFacts

    Floats = NDArray[np.float64]

POINTS: Final = 1200
"""A curve is averaged down to about so many points."""
COARSE_POINTS: Final = 400
"""Points of the search for a stretch."""
LARGEST_STRETCH: Final = 6.0
"""Stretches from its reciprocal to this are tried."""
STRETCHES: Final = 31
"""Number of stretches of the first round."""
SAME_DURATION: Final = 1.06
"""No stretch is looked for when the durations of the two curves differ by less than this factor."""


@short_repr
@dataclass(frozen=True, slots=True, eq=False)
class Curve:
    """A channel without offset, in SI, averaged over short blocks.

    Attributes
    ----------
    start_s, step_s
        Time base, s.
    values
        Shape ``(m,)``, SI.
    """

    start_s: float
    step_s: float
    values: Floats

    @property
    def end_s(self) -> float:
        """Time of the last point, s."""
        return self.start_s + self.step_s * (self.values.size - 1)

    @property
    def duration_s(self) -> float:
        """Standard deviation of time, weighted with the squared values, s: it scales with the time axis."""
        weight = self.values**2
        index = np.arange(weight.size)
        total = float(weight.sum())
        if total == 0:
            return self.step_s
        mean = float(index @ weight) / total
        return self.step_s * max(1.0, math.sqrt(float((index - mean) ** 2 @ weight) / total))

    def at(self, time_s: NDArray[np.floating[Any]]) -> Floats:
        """Return the curve at given times, straight between its points; 0 beyond its ends."""
        own = self.start_s + self.step_s * np.arange(self.values.size)
        return np.asarray(np.interp(time_s, own, self.values, left=0.0, right=0.0))


@dataclass(frozen=True, slots=True)
class Likeness:
    """The best match of one curve with another.

    Attributes
    ----------
    correlation
        Size of the normalised correlation, in [0, 1].
    sign
        1, or −1 when the turned curve matches better.
    gain
        Size of the first over that of the second at the best match.
    shift_s
        How much later the first is, s.
    stretch
        How much longer the first lasts; 1 unless another stretch explains the curve far better.
    stretched_correlation
        At that stretch.
    """

    correlation: float
    sign: int
    gain: float
    shift_s: float
    stretch: float
    stretched_correlation: float

    def turned_round(self) -> Likeness:
        """Return the match of the second with the first."""
        return Likeness(
            self.correlation,
            self.sign,
            1 / self.gain if self.gain else 0.0,
            -self.shift_s,
            1 / self.stretch,
            self.stretched_correlation,
        )


def curve_of(facts: ChannelFacts) -> Curve:
    """Return a channel as a short curve.

    Parameters
    ----------
    facts
        Of the channel.

    Returns
    -------
    Curve
    """
    signal = facts.signal
    block = max(1, len(signal) // POINTS)
    count = len(signal) // block
    values = facts.calm[: count * block].reshape(count, block).mean(axis=1) - facts.baseline
    return Curve(
        start_s=signal.start_s + (block - 1) / 2 * signal.step_s,
        step_s=block * signal.step_s,
        values=values * parse_unit(signal.unit).factor,
    )


def likeness(one: Curve, other: Curve) -> Likeness:
    r"""Find sign, gain, shift and stretch that make two curves most alike.

    Parameters
    ----------
    one, other
        Curves without offset.

    Returns
    -------
    Likeness

    References
    ----------
    .. [1] Normalised cross-correlation by Fourier transform; any textbook of signal processing. The search
       over stretches: derived here.
    """
    a, b, step_s, apart_s = _common(one, other)
    value, lag = _best_match(a, b)
    gain = _gain(a, b, lag)
    stretch, stretched = _best_stretch(one, other, abs(value))
    return Likeness(
        correlation=abs(value),
        sign=1 if value >= 0 else -1,
        gain=gain,
        shift_s=lag * step_s + apart_s,
        stretch=stretch,
        stretched_correlation=stretched,
    )


def squared_error(one: Curve, other: Curve) -> float:
    r"""Return the least squared difference of two curves over all shifts, over the squares of the second.

    .. math:: e = \min_m \frac{\sum (a_{i+m} - b_i)^2}{\sum b_i^2}
                = \frac{E_a + E_b - 2\,\max_m \sum a_{i+m} b_i}{E_b}

    Parameters
    ----------
    one, other
        Curves without offset, zero beyond their ends.

    Returns
    -------
    float
        0 for equal curves; infinite when the second is zero.
    """
    a, b, _, _ = _common(one, other)
    energy_a, energy_b = float(a @ a), float(b @ b)
    if energy_b == 0:
        return math.inf
    best = float(_correlation(a, b).max()) * math.sqrt(energy_a * energy_b)
    return (energy_a + energy_b - 2 * best) / energy_b


def _common(one: Curve, other: Curve) -> tuple[Floats, Floats, float, float]:
    """Return both on one step, the step and by how much the first starts later.

    Where they share most of their time, both are cut to it, so that a longer record is not a difference.
    """
    step_s = max(one.step_s, other.step_s)
    start_s, end_s = max(one.start_s, other.start_s), min(one.end_s, other.end_s)
    shorter_s = min(one.end_s - one.start_s, other.end_s - other.start_s)
    if end_s - start_s >= 0.5 * shorter_s:
        time = start_s + step_s * np.arange(int((end_s - start_s) / step_s * (1 + 1e-9)) + 1)
        return one.at(time), other.at(time), step_s, 0.0
    a, b = (
        curve.at(curve.start_s + step_s * np.arange(int((curve.end_s - curve.start_s) / step_s) + 1))
        for curve in (one, other)
    )
    return a, b, step_s, one.start_s - other.start_s


def _correlation(a: Floats, b: Floats) -> Floats:
    """Return the normalised correlation at every lag from ``-(b.size - 1)`` to ``a.size - 1``."""
    size = 1 << (a.size + b.size - 1).bit_length()
    spectrum = np.fft.rfft(a, size) * np.conj(np.fft.rfft(b, size))
    circular = np.fft.irfft(spectrum, size)
    lags = np.concatenate((circular[size - (b.size - 1) :], circular[: a.size]))
    scale = math.sqrt(float(a @ a) * float(b @ b))
    return lags / scale if scale > 0 else np.zeros_like(lags)


def _best_match(a: Floats, b: Floats) -> tuple[float, float]:
    """Return the correlation of largest size, with its sign, and its lag in steps."""
    values = _correlation(a, b)
    best = int(np.abs(values).argmax())
    lag = float(best - (b.size - 1))
    if 0 < best < values.size - 1:
        left, mid, right = np.abs(values[best - 1 : best + 2])
        bend = left - 2 * mid + right
        if bend < 0:
            lag += float(0.5 * (left - right) / bend)
    return float(values[best]), lag


def _gain(a: Floats, b: Floats, lag: float) -> float:
    """Return the size of ``a`` over ``b``: the root of the ratio of their energies where both overlap."""
    move = round(lag)
    first, second = a[max(0, move) :], b[max(0, -move) :]
    size = min(first.size, second.size)
    energy = float(second[:size] @ second[:size])
    return math.sqrt(float(first[:size] @ first[:size]) / energy) if energy > 0 else 0.0


def _best_stretch(one: Curve, other: Curve, unstretched: float) -> tuple[float, float]:
    """Return the stretch of the first against the second, and the correlation at it."""
    if abs(math.log(one.duration_s / other.duration_s)) < math.log(SAME_DURATION):
        return 1.0, unstretched
    step_s = max(one.end_s - one.start_s, other.end_s - other.start_s) / COARSE_POINTS
    a = one.at(one.start_s + step_s * np.arange(int((one.end_s - one.start_s) / step_s) + 1))

    spectra: dict[int, NDArray[np.complex128]] = {}
    energy = float(a @ a)

    def value(log_stretch: float) -> float:
        stretch = math.exp(log_stretch)
        length_s = (other.end_s - other.start_s) * stretch
        b = other.at(other.start_s + step_s / stretch * np.arange(int(length_s / step_s) + 1))
        length = 1 << (a.size + b.size - 1).bit_length()
        if length not in spectra:
            spectra[length] = np.fft.rfft(a, length)
        products = np.fft.irfft(spectra[length] * np.conj(np.fft.rfft(b, length)), length)
        size = math.sqrt(energy * float(b @ b))
        # A pulse that is shorter than the coarse step may fall between its points.
        return float(np.abs(products).max()) / size if size > 0 else 0.0

    grid = np.linspace(-math.log(LARGEST_STRETCH), math.log(LARGEST_STRETCH), STRETCHES)
    scores = [value(float(log_stretch)) for log_stretch in grid]
    best = int(np.argmax(scores))
    fine = grid[best] + (grid[1] - grid[0]) * np.linspace(-1, 1, 9)
    fine_scores = [value(float(log_stretch)) for log_stretch in fine]
    top = int(np.argmax(fine_scores))
    if fine_scores[top] <= unstretched:
        return 1.0, unstretched
    return math.exp(float(fine[top])), fine_scores[top]
