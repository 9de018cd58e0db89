"""How well the hardware agrees with itself, and the model's rating beside it."""

from __future__ import annotations

from dataclasses import dataclass, replace
from itertools import permutations
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning import Recipe, align
from correlate.conditioning.align import AS_RECORDED
from correlate.errors import SignalError
from correlate.metrics.iso18571 import RatingSettings, rate
from correlate.reference.bootstrap import Interval, interval_of_mean

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.signal import Signal

LEAST_REPEATS: Final = 3
"""With fewer repeats there is no number for how well the hardware agrees with itself."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Ceiling:
    """The rating of the hardware against itself, for one channel.

    Attributes
    ----------
    median, lowest, highest
        Of `ratings`; None with fewer than three repeats.
    ratings
        Overall rating of every repeat (as candidate) against every other (as reference), by the pair of
        their numbers ``(reference, candidate)``, from 0.
    repeats
        Number of repeats.
    """

    median: float | None
    lowest: float | None
    highest: float | None
    ratings: dict[tuple[int, int], float]
    repeats: int

    @property
    def in_words(self) -> str:
        """One line for a table."""
        if self.median is None:
            return f"too few repeats ({self.repeats}; {LEAST_REPEATS} are needed)"
        return f"{self.median:.3f} ({self.lowest:.3f} to {self.highest:.3f}, {self.repeats} repeats)"


@dataclass(frozen=True, slots=True, kw_only=True)
class RatedAgainstRepeats:
    """The rating of a model against every repeat, with what the hardware allows.

    Attributes
    ----------
    mean
        Mean of `ratings`.
    ratings
        Overall rating against each repeat.
    interval
        Of the mean, by bootstrap over the repeats; None with fewer than three.
    ceiling
        Of the same repeats, with the same settings.
    share_of_ceiling
        `mean` over the median of the ceiling; None with fewer than three repeats. Above 1, the model is
        nearer to the repeats than they are to each other, as a mean curve may be.
    """

    mean: float
    ratings: tuple[float, ...]
    interval: Interval | None
    ceiling: Ceiling
    share_of_ceiling: float | None

    @property
    def in_words(self) -> str:
        """One line for a table."""
        if self.interval is None or self.share_of_ceiling is None:
            return f"{self.mean:.3f}; too few repeats for an interval ({self.ceiling.repeats})"
        return (
            f"{self.mean:.3f} ({self.interval.low:.3f} to {self.interval.high:.3f}), "
            f"{self.share_of_ceiling:.0%} of the ceiling"
        )


def between_repeats(recipe: Recipe) -> Recipe:
    """Return the recipe for two repeats: the candidate is treated as the reference is.

    Parameters
    ----------
    recipe
        Of a test and a model.

    Returns
    -------
    Recipe
    """
    return replace(
        recipe,
        candidate_offset_window_s=recipe.reference_offset_window_s,
        candidate_sign=recipe.reference_sign,
        candidate_shift_s=recipe.reference_shift_s,
    )


def ceiling_of(
    repeats: Sequence[Signal], recipe: Recipe = AS_RECORDED, settings: RatingSettings | None = None
) -> Ceiling:
    """Rate every repeat against every other, with the settings of the model's rating.

    Repeats are not moved in time first, because the model is not either.

    Parameters
    ----------
    repeats
        Of one channel, as recorded.
    recipe
        As for the model.
    settings
        As for the model.

    Returns
    -------
    Ceiling

    Raises
    ------
    SignalError, UnitError
        Two repeats cannot be aligned; see :func:`correlate.conditioning.align`.

    References
    ----------
    .. [1] Rating: ISO/TS 18571:2014, from memory. Median and range over repeats: chosen here.
    """
    same = between_repeats(recipe)
    ratings = {
        (reference, candidate): rate(align(repeats[reference], repeats[candidate], same), settings).overall
        for reference, candidate in permutations(range(len(repeats)), 2)
    }
    values = list(ratings.values())
    enough = len(repeats) >= LEAST_REPEATS
    return Ceiling(
        median=float(np.median(values)) if enough else None,
        lowest=min(values) if enough else None,
        highest=max(values) if enough else None,
        ratings=ratings,
        repeats=len(repeats),
    )


def rate_against_repeats(
    repeats: Sequence[Signal],
    candidate: Signal,
    recipe: Recipe = AS_RECORDED,
    settings: RatingSettings | None = None,
) -> RatedAgainstRepeats:
    """Rate a model against every repeat and set the ceiling beside it.

    Parameters
    ----------
    repeats
        Of one channel, as recorded; at least one.
    candidate
        The model.
    recipe
        Conditioning of both.
    settings
        Of the rating.

    Returns
    -------
    RatedAgainstRepeats

    Raises
    ------
    SignalError
        There is no repeat, or a pair cannot be aligned.
    UnitError
        The channels measure different things.

    Notes
    -----
    The interval speaks of the scatter of the repeats only. It does not hold the error of the sensors that
    all repeats share, nor that of the method.
    """
    if not repeats:
        raise SignalError("there is no repeat", remedy="give at least one")
    ratings = tuple(rate(align(repeat, candidate, recipe), settings).overall for repeat in repeats)
    ceiling = ceiling_of(repeats, recipe, settings)
    mean = float(np.mean(ratings))
    enough = len(repeats) >= LEAST_REPEATS
    return RatedAgainstRepeats(
        mean=mean,
        ratings=ratings,
        interval=interval_of_mean(ratings) if enough else None,
        ceiling=ceiling,
        share_of_ceiling=mean / ceiling.median if ceiling.median else None,
    )
