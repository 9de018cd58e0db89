"""The scatter of repeats in numbers: peaks, standard deviation over time, classes of variation."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.display import short_repr

if TYPE_CHECKING:
    from correlate.reference.repeatability import Ceiling
    from correlate.reference.repeats import RepeatSet

VARIATION_CLASSES: Final = ((0.05, "excellent"), (0.08, "good"), (0.10, "acceptable"))
"""Upper bounds of the coefficient of variation of a peak, and what it is called up to them."""
BEYOND: Final = "poor"


def variation_class(variation: float) -> str:
    """Return what a coefficient of variation is called.

    Parameters
    ----------
    variation
        Standard deviation over the size of the mean, 0 or more.

    Returns
    -------
    str
        ``excellent`` up to 5 %, ``good`` up to 8 %, ``acceptable`` up to 10 %, else ``poor``.

    References
    ----------
    .. [1] Classes in use for the repeatability of dummies, such as in evaluations for 49 CFR Part 572: from
       memory.

    Examples
    --------
    >>> [variation_class(one) for one in (0.03, 0.05, 0.06, 0.09, 0.2)]
    ['excellent', 'excellent', 'good', 'acceptable', 'poor']
    """
    return next((name for bound, name in VARIATION_CLASSES if variation <= bound + 1e-12), BEYOND)


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class OneRepeat:
    """One repeat among the others.

    Attributes
    ----------
    shift_s
        How far it was moved to later times to agree with the others, s.
    peak
        Value of largest size, with its sign, in the unit of the repeats.
    peak_s
        When, after the move, s.
    rating
        Median of its overall rating against every other repeat, as reference and as candidate; None for a
        single repeat.
    """

    shift_s: float
    peak: float
    peak_s: float
    rating: float | None


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class RepeatNumbers:
    """The repeats of one channel together.

    Attributes
    ----------
    repeats
        One each, in their order.
    peak_mean
        Mean of the peaks.
    peak_spread
        Standard deviation of the peaks; None for a single repeat.
    peak_variation
        Coefficient of variation of the peaks, their standard deviation over the size of their mean; None for
        a single repeat or a mean of zero.
    variation_class
        From :func:`variation_class`; None where `peak_variation` is.
    largest_spread, largest_spread_s
        Largest standard deviation of the curves over time, and when; None for a single repeat.
    mean_spread
        Root mean square of the standard deviation over time; None for a single repeat.
    relative_spread
        `largest_spread` over the largest size of the mean curve; None for a single repeat or a mean of zero.
    """

    repeats: tuple[OneRepeat, ...]
    peak_mean: float
    peak_spread: float | None
    peak_variation: float | None
    variation_class: str | None
    largest_spread: float | None
    largest_spread_s: float | None
    mean_spread: float | None
    relative_spread: float | None


def repeat_numbers(repeats: RepeatSet, ceiling: Ceiling) -> RepeatNumbers:
    """Put the scatter of repeats into numbers.

    Parameters
    ----------
    repeats
        Conditioned and aligned.
    ceiling
        Of the same repeats, in the same order.

    Returns
    -------
    RepeatNumbers

    References
    ----------
    .. [1] Standard deviation with ``k - 1`` degrees of freedom, coefficient of variation: any textbook.
    """
    places = np.abs(repeats.curves).argmax(axis=1)
    peaks = repeats.curves[np.arange(len(repeats)), places]
    several = len(repeats) > 1
    spread = float(peaks.std(ddof=1)) if several else None
    mean = float(peaks.mean())
    scatter = repeats.standard_deviation
    widest = int(scatter.argmax())
    highest = float(np.abs(repeats.mean).max())
    variation = spread / abs(mean) if spread is not None and mean else None
    return RepeatNumbers(
        repeats=tuple(
            OneRepeat(
                shift_s=repeats.shifts_s[number],
                peak=float(peaks[number]),
                peak_s=float(repeats.time_s[place]),
                rating=ceiling.ratings[number] if ceiling.ratings else None,
            )
            for number, place in enumerate(places)
        ),
        peak_mean=mean,
        peak_spread=spread,
        peak_variation=variation,
        variation_class=None if variation is None else variation_class(variation),
        largest_spread=float(scatter[widest]) if several else None,
        largest_spread_s=float(repeats.time_s[widest]) if several else None,
        mean_spread=float(np.sqrt((scatter**2).mean())) if several else None,
        relative_spread=float(scatter[widest]) / highest if several and highest else None,
    )
