"""How well the repeats agree with each other, and the model's rating beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning import Recipe, align, condition, cut_pair, mean_signal
from correlate.conditioning.align import AS_RECORDED
from correlate.display import short_repr
from correlate.errors import SignalError
from correlate.metrics.iso18571 import RatingSettings, rate, rate_many
from correlate.statistics import mean_estimate

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.metrics.iso18571 import Rating
    from correlate.pair import AlignedPair
    from correlate.signal import Signal
    from correlate.statistics import Estimate

LEAST_REPEATS: Final = 3
"""With fewer repeats there is no number for how well the repeats agree with each other."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Ceiling:
    """The rating of the repeats against each other, for one channel.

    Attributes
    ----------
    median, lowest, highest
        Of `ratings`; None with fewer than three repeats.
    ratings
        Overall rating of each repeat (as candidate) against the mean of the others (as reference), in the
        order of the repeats.
    repeats
        Number of repeats.
    """

    median: float | None
    lowest: float | None
    highest: float | None
    ratings: tuple[float, ...]
    repeats: int

    @property
    def in_words(self) -> str:
        """One line for a table."""
        if self.median is None:
            return f"too few repeats ({self.repeats}; {LEAST_REPEATS} are needed)"
        return f"{self.median:.3f} ({self.lowest:.3f} to {self.highest:.3f}, {self.repeats} repeats)"


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class RatedAgainstRepeats:
    """The rating of a model against every repeat, with what the hardware allows.

    Attributes
    ----------
    mean
        Mean of `ratings`.
    ratings
        Overall rating against each repeat.
    estimate
        The mean with Student's interval over the repeats; None with fewer than three.
    ceiling
        Of the same repeats, with the same settings.
    share_of_ceiling
        `mean` over the median of the ceiling; None with fewer than three repeats. Above 1, the model is
        nearer to the repeats than they are to the mean of each other.
    loss_ratio
        How many times the hardware's own loss the model loses, from :func:`loss_ratio`.
    """

    mean: float
    ratings: tuple[float, ...]
    estimate: Estimate | None
    ceiling: Ceiling
    share_of_ceiling: float | None
    loss_ratio: float | None

    @property
    def in_words(self) -> str:
        """One line for a table."""
        if self.estimate is None or self.share_of_ceiling is None:
            return f"{self.mean:.3f}; too few repeats for an interval ({self.ceiling.repeats})"
        return (
            f"{self.mean:.3f} ({self.estimate.lower():.3f} to {self.estimate.upper():.3f}), "
            f"{self.share_of_ceiling:.0%} of the ceiling, loss {loss_ratio_words(self.loss_ratio)}"
        )


def ceiling_of(
    repeats: Sequence[Signal], recipe: Recipe = AS_RECORDED, settings: RatingSettings | None = None
) -> Ceiling:
    """Rate every repeat against the mean of the others, with the settings of the model's rating.

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
    unit = recipe.unit or repeats[0].unit
    treated = [condition(repeat, recipe.for_reference(unit)) for repeat in repeats]
    several = len(repeats) > 1
    found = rated_against_the_others(treated, recipe, settings) if several else ()
    values = tuple(rating.overall for rating in found)
    enough = len(repeats) >= LEAST_REPEATS
    return Ceiling(
        median=float(np.median(values)) if enough else None,
        lowest=min(values) if enough else None,
        highest=max(values) if enough else None,
        ratings=values,
        repeats=len(repeats),
    )


def rated_against_the_others(
    treated: Sequence[Signal], recipe: Recipe, settings: RatingSettings | None = None
) -> tuple[Rating, ...]:
    r"""Rate each repeat against the mean of the others.

    Notes
    -----
    With repeats that scatter independently by a variance :math:`\sigma^2`, a repeat differs from the mean of
    the others by :math:`\sigma^2 n / (n - 1)`, and a perfect model from a single repeat by
    :math:`\sigma^2`. A perfect model therefore rates slightly above this ceiling.
    """
    return rate_many(pairs_with_the_others(treated, recipe), settings, threads=1)


def pairs_with_the_others(treated: Sequence[Signal], recipe: Recipe) -> list[AlignedPair]:
    """Pair each repeat with the mean of the others."""
    return [
        pair_with_the_mean([*treated[:place], *treated[place + 1 :]], one, recipe)
        for place, one in enumerate(treated)
    ]


def pair_with_the_mean(treated: Sequence[Signal], candidate: Signal, recipe: Recipe) -> AlignedPair:
    """Pair a curve with the mean of repeats."""
    mean = mean_signal(treated, [one.source.file for one in treated])
    return cut_pair(mean, candidate.in_unit(mean.unit), recipe)


def loss_ratio(rating: float | None, ceiling: float | None) -> float | None:
    r"""Return how many times the hardware's own loss a model loses.

    .. math:: (1 - R) / (1 - R_\mathrm{ceiling})

    Parameters
    ----------
    rating
        Of the model.
    ceiling
        Of the hardware.

    Returns
    -------
    float or None
        None where one is not known, or where the hardware repeats itself exactly.

    Examples
    --------
    >>> round(loss_ratio(0.94, 0.98), 6), loss_ratio(0.9, 1.0)
    (3.0, None)
    """
    if rating is None or ceiling is None or ceiling >= 1.0:
        return None
    return (1.0 - rating) / (1.0 - ceiling)


def loss_ratio_words(ratio: float | None) -> str:
    """Return a loss ratio in words.

    Parameters
    ----------
    ratio
        From :func:`loss_ratio`.

    Returns
    -------
    str

    Examples
    --------
    >>> loss_ratio_words(2.96), loss_ratio_words(None)
    ("3.0 × the hardware's", 'not comparable')
    """
    return "not comparable" if ratio is None else f"{ratio:.1f} × the hardware's"


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
        estimate=mean_estimate(ratings) if enough else None,
        ceiling=ceiling,
        share_of_ceiling=mean / ceiling.median if ceiling.median else None,
        loss_ratio=loss_ratio(mean, ceiling.median),
    )
