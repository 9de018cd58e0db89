"""How far the repeats of a test lie from each other, in the same errors as a model from them."""

from __future__ import annotations

import math
from dataclasses import dataclass
from itertools import permutations
from typing import TYPE_CHECKING

import numpy as np

from correlate.campaign.costs import COMPONENTS
from correlate.conditioning import pair_conditioned
from correlate.metrics.iso18571 import rate
from correlate.reference.repeatability import LEAST_REPEATS

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from correlate.conditioning import Recipe
    from correlate.metrics.iso18571 import Rating, RatingSettings
    from correlate.signal import Signal


@dataclass(frozen=True, slots=True, kw_only=True)
class HardwareScatter:
    """The scatter of the repeats of one channel.

    Attributes
    ----------
    repeats
        Number of repeats.
    rating
        Median rating of every repeat against every other: what a model that is as good as the hardware may
        expect.
    errors
        By component, the largest error of one repeat against another: lost corridor score, size of the
        shift in s, relative difference of sizes and of slopes.
    """

    repeats: int
    rating: float
    errors: Mapping[str, float]

    def holds(self, component: str, error: float) -> bool | None:
        """Say whether an error is no larger than that between two repeats; None when that is unknown.

        Parameters
        ----------
        component
            ``corridor``, ``phase``, ``magnitude`` or ``slope``.
        error
            Of a model; a shift may have either sign.

        Returns
        -------
        bool or None
        """
        largest = self.errors.get(component)
        return None if largest is None else abs(error) <= largest


def hardware_scatter(
    repeats: Sequence[Signal], recipe: Recipe, settings: RatingSettings | None = None
) -> HardwareScatter | None:
    """Rate every repeat against every other and keep the largest error of each kind.

    Parameters
    ----------
    repeats
        Conditioned by the recipe, not yet cut to its interval.
    recipe
        Its interval is used.
    settings
        As for the model.

    Returns
    -------
    HardwareScatter or None
        None with fewer than three repeats.

    Raises
    ------
    SignalError
        Two repeats cannot be compared.

    Notes
    -----
    Repeats are not moved in time first, because the model is not either. With few repeats the largest error
    is a small sample of what the hardware does.

    References
    ----------
    .. [1] Rating: ISO/TS 18571:2014, from memory. Largest error and median rating: chosen here.
    """
    if len(repeats) < LEAST_REPEATS:
        return None
    ratings = [
        rate(pair_conditioned(one, other.in_unit(one.unit), recipe).pair, settings)
        for one, other in permutations(repeats, 2)
    ]
    columns = {name: [_error(rating, name) for rating in ratings] for name in COMPONENTS}
    known = {name: [value for value in values if math.isfinite(value)] for name, values in columns.items()}
    return HardwareScatter(
        repeats=len(repeats),
        rating=float(np.median([rating.overall for rating in ratings])),
        errors={name: max(values) for name, values in known.items() if values},
    )


def _error(rating: Rating, component: str) -> float:
    if component == "corridor":
        return 1.0 - rating.corridor
    if component == "phase":
        return abs(rating.shift_s)
    return float(getattr(rating.ingredients, component).error)
