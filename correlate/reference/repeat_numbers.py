"""The repeatability of one channel in numbers: peaks, scatter, and ratings of the repeats."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.display import short_repr

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.reference.repeatability import Ceiling
    from correlate.reference.repeats import RepeatSet


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
    largest_spread, largest_spread_s
        Largest standard deviation of the curves over time, and when; None for a single repeat.
    """

    repeats: tuple[OneRepeat, ...]
    peak_mean: float
    peak_spread: float | None
    peak_variation: float | None
    largest_spread: float | None
    largest_spread_s: float | None


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
        peak_variation=spread / abs(mean) if spread is not None and mean else None,
        largest_spread=float(scatter[widest]) if several else None,
        largest_spread_s=float(repeats.time_s[widest]) if several else None,
    )


def _median(values: Sequence[float]) -> float | None:
    return float(np.median(values)) if values else None
