"""Squared error of a model over delays: what a shift in time alone leaves of the difference to the test."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.fft import irfft, rfft

from correlate.conditioning import shift_time
from correlate.diagnosis.suspects.case import POOR, error_left, interval_of, paired, rated

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.conditioning import Recipe
    from correlate.metrics.iso18571 import RatingSettings
    from correlate.pair import AlignedPair
    from correlate.signal import Signal

    Floats = NDArray[np.float64]


LEAST_ENERGY: Final = 0.25
"""Share of the squares of the test that a shifted model must still cover (chosen here)."""
FIRST_RANGE_S: Final = 0.015
"""Largest delay that is tried first, s; the range is doubled until the least error lies inside …"""
LAST_RANGE_S: Final = 0.12
"""… and no further than this, s (both chosen here)."""


def ranges_s() -> tuple[float, ...]:
    """Return the ranges of delays in the order in which they are tried, s.

    Examples
    --------
    >>> ranges_s()
    (0.015, 0.03, 0.06, 0.12)
    """
    count = round(np.log2(LAST_RANGE_S / FIRST_RANGE_S))
    return tuple(FIRST_RANGE_S * 2**power for power in range(count + 1))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class DelayErrors:
    r"""Squared error left at each delay, over the squares of the test.

    .. math:: e(k) = \frac{\sum_i (r_i - c_{i+k})^2}{\sum_i r_i^2}

    The sums run over the samples of the test's interval under which the model has data.

    Attributes
    ----------
    values
        Shape ``(2 m + 1,)``, for delays of the model from :math:`-m` to :math:`m` samples; infinite where the
        model no longer covers enough of the test.
    step_s
        Time step, s.
    """

    values: Floats
    step_s: float

    @property
    def most(self) -> int:
        """Largest delay, samples."""
        return len(self.values) // 2

    def within(self, range_s: float) -> DelayErrors:
        """Return the errors at delays up to a range that is no larger, s."""
        most = min(samples_in(range_s, self.step_s), self.most)
        return DelayErrors(values=self.values[self.most - most : self.most + most + 1], step_s=self.step_s)

    def inside(self) -> int | None:
        """Return the delay of least error, samples; None where it is at the border of what was compared."""
        return least_inside(self.values)

    def at(self, delay: int) -> float:
        """Return the error at a delay in samples; infinite beyond the range."""
        return float(self.values[self.most + delay]) if abs(delay) <= self.most else float("inf")


def samples_in(range_s: float, step_s: float) -> int:
    """Return the largest delay of a range in samples, at least one."""
    return max(1, round(range_s / step_s))


def least_inside(values: Floats) -> int | None:
    """Return the delay of the least value, counted from the middle; None where it is at a border.

    Examples
    --------
    >>> import numpy as np
    >>> least_inside(np.array([3.0, 1.0, 2.0, 4.0, 5.0])), least_inside(np.array([np.inf, 1.0, 2.0]))
    (-1, None)
    """
    best = int(values.argmin())
    if not 0 < best < values.size - 1 or not np.isfinite(values[best - 1 : best + 2]).all():
        return None
    return best - values.size // 2


def delay_errors(test: Signal, model: Signal, recipe: Recipe, *, range_s: float) -> DelayErrors | None:
    """Compute the error over delays by Fourier transform.

    Parameters
    ----------
    test, model
        Conditioned by the recipe, not cut to its interval.
    recipe
        Its interval and time step are used.
    range_s
        Largest delay, s.

    Returns
    -------
    DelayErrors or None
        None where the test has no samples in the interval, or is zero there.

    References
    ----------
    .. [1] Derived here.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate import Recipe, Signal
    >>> curve = np.sin(np.pi * np.clip(np.arange(-200, 800) / 300, 0, 1))
    >>> grid = {"start_s": -0.02, "step_s": 1e-4, "unit": "N", "channel": "force"}
    >>> test, model = Signal(samples=curve, **grid), Signal(samples=np.roll(curve, 40), **grid)
    >>> found = delay_errors(test, model, Recipe(start_s=0.0, end_s=0.06), range_s=0.01)
    >>> int(found.values.argmin()) - found.most
    40
    """
    step_s = recipe.step_s
    first, count = interval_of(test, recipe)
    if count < 1:
        return None
    reference = cut_to_interval(test, recipe)
    energy = float(reference @ reference)
    if energy == 0.0:
        return None
    most = samples_in(range_s, step_s)
    ahead = round((test.start_s - model.start_s) / step_s) + first
    padded, known = _around(model.samples, ahead - most, count + 2 * most)
    points = 1 << (padded.size - 1).bit_length()
    products = _sliding(padded, reference, points)[: 2 * most + 1]
    covered = _under(known, reference**2, 2 * most + 1)
    sums = np.concatenate(([0.0], np.cumsum(padded**2)))
    under = sums[count:] - sums[: 2 * most + 1]
    enough = covered >= LEAST_ENERGY * energy
    left = np.maximum(covered - 2.0 * products + under, 0.0) / np.maximum(covered, 1e-300)
    return DelayErrors(values=np.where(enough, left, np.inf), step_s=step_s)


def cut_to_interval(test: Signal, recipe: Recipe) -> Floats:
    """Return the samples of a test in the interval of a recipe, shape ``(n,)``."""
    first, count = interval_of(test, recipe)
    return test.samples[first : first + max(count, 0)]


def _around(samples: Floats, first: int, count: int) -> tuple[Floats, slice]:
    """Return `count` samples from `first` on, zero outside the curve, and which of them are inside."""
    padded = np.zeros(count)
    taken = samples[max(first, 0) : max(first + count, 0)]
    place = slice(max(-first, 0), max(-first, 0) + taken.size)
    padded[place] = taken
    return padded, place


def _under(known: slice, squares: Floats, delays: int) -> Floats:
    """Return the sum of squares of the test over which the model has samples, at each delay."""
    sums = np.concatenate(([0.0], np.cumsum(squares)))
    places = np.arange(delays)
    last = np.clip(known.stop - places, 0, squares.size)
    return np.asarray(sums[last] - sums[np.minimum(np.clip(known.start - places, 0, squares.size), last)])


def _sliding(longer: Floats, shorter: Floats, points: int) -> Floats:
    """Return the products of a curve with each stretch of a longer one."""
    spectrum = rfft(longer, points) * np.conj(rfft(shorter, points))
    return np.asarray(irfft(spectrum, points))


def best_delay_s(test: Signal, model: Signal, recipe: Recipe) -> float | None:
    """Return the delay that leaves least error, s; None where it is at the border of every range."""
    widest = delay_errors(test, model, recipe, range_s=LAST_RANGE_S)
    if widest is None:
        return None
    inside = [
        (errors.at(delay), delay * errors.step_s)
        for errors in map(widest.within, ranges_s())
        if (delay := errors.inside()) is not None
    ]
    return min(inside)[1] if inside else None


LEAST_S: Final = 0.002
"""A smaller delay is no shift, s …"""
LEAST_RESTORED: Final = 0.6
"""… nor one that restores less than this share of the lost rating …"""
MOST_KEPT: Final = 0.15
"""… or keeps more than this share of the squared error …"""
MOST_OF_OTHERS: Final = 0.5
"""… or more than this share of what size and duration without a delay would keep (all chosen here)."""
NO_DELAY: Final = replace(POOR, delay_s=0.0)
"""What a model may be off that starts with the test."""


@dataclass(frozen=True, slots=True, kw_only=True)
class ShiftAlone:
    """A shift in time that alone restores most of the rating that a pair has lost.

    Attributes
    ----------
    delay_s
        By which the model is late, s; negative when it is early.
    before, after
        Rating as it is, and with the model moved back.
    """

    delay_s: float
    before: float
    after: float


def shift_alone(test: Signal, model: Signal, recipe: Recipe, settings: RatingSettings) -> ShiftAlone | None:
    """Look for a shift in time that alone restores most of the rating that a pair has lost.

    Parameters
    ----------
    test, model
        Conditioned by the recipe, not cut to its interval.
    recipe
        Its interval and time step are used.
    settings
        Of the rating.

    Returns
    -------
    ShiftAlone or None
        None where size, duration or shape are off too much, or the delay is below 2 ms.

    References
    ----------
    .. [1] Derived here. Limits chosen here on invented worlds; see the page on suspects.
    """
    delay_s = best_delay_s(test, model, recipe)
    if delay_s is None or abs(delay_s) < LEAST_S:
        return None
    before = paired(test, model, recipe)
    after = paired(test, shift_time(model, -delay_s), recipe)
    if before is None or after is None:
        return None
    kept = _kept(after)
    if kept > MOST_KEPT * _kept(before) or kept > MOST_OF_OTHERS * error_left(before, NO_DELAY):
        return None
    first, second = rated(before, settings), rated(after, settings)
    if first is None or second is None or second - first < LEAST_RESTORED * (1.0 - first):
        return None
    return ShiftAlone(delay_s=delay_s, before=first, after=second)


def _kept(pair: AlignedPair) -> float:
    """Return the squared error of a pair, over the squares of its reference."""
    return float(
        np.square(pair.candidate - pair.reference).sum() / max(np.square(pair.reference).sum(), 1e-300)
    )
