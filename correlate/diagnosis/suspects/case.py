"""One pair under examination: the signals as read, how they are compared, and their rating."""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning import Recipe, condition, pair_conditioned
from correlate.diagnosis.suspects.freedom import MODERATE, POOR, error_left
from correlate.diagnosis.suspects.likeness import size_ratio
from correlate.errors import SignalError
from correlate.metrics.iso18571 import RatingSettings, rate
from correlate.pair import AlignedPair
from correlate.unit_factors import factors_for, nearest_factor

if TYPE_CHECKING:
    from collections.abc import Mapping

    from correlate.signal import Signal

LEAST_COVERED: Final = 0.6
"""Share of the interval that two moved signals must still cover to be rated on what is left of it."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Case:
    """A pair with everything that is needed to try a change on it.

    Attributes
    ----------
    reference, candidate
        As read, before any conditioning.
    recipe
        How they are compared.
    settings
        Of the rating.
    others
        Other axes of the candidate's sensor, as read, by name.
    treated_reference, treated_candidate
        Conditioned, not cut to the interval.
    pair
        Cut to the interval, or to what both cover of it; None where they cannot be paired.
    rating
        Of that pair.
    poor
        Squared error that a poor model's freedoms leave of it, over the squares of the reference; 1
        without a pair.
    extra
        What was changed before, part of every further change.
    """

    reference: Signal
    candidate: Signal
    recipe: Recipe
    settings: RatingSettings
    others: Mapping[str, Signal]
    treated_reference: Signal
    treated_candidate: Signal
    pair: AlignedPair | None
    rating: float | None
    poor: float
    extra: Mapping[str, float] = field(default_factory=dict)


def open_case(
    reference: Signal,
    candidate: Signal,
    recipe: Recipe,
    settings: RatingSettings | None,
    others: Mapping[str, Signal],
) -> Case:
    """Condition and rate a pair.

    Parameters
    ----------
    reference, candidate
        As read.
    recipe
        How they are compared.
    settings
        Of the rating; the published ones when None.
    others
        Other axes of the candidate's sensor.

    Returns
    -------
    Case

    Raises
    ------
    UnitError, SignalError
        The signals measure different things, or one of them does not allow a step of the recipe.
    """
    chosen = settings or RatingSettings()
    unit = recipe.unit or reference.unit
    treated = (
        condition(reference, recipe.for_reference(unit)),
        condition(candidate, recipe.for_candidate(unit)),
    )
    pair = paired(*treated, recipe)
    return Case(
        reference=reference,
        candidate=candidate,
        recipe=recipe,
        settings=chosen,
        others=others,
        treated_reference=treated[0],
        treated_candidate=treated[1],
        pair=pair,
        rating=rated(pair, chosen),
        poor=poor_error(pair, candidate.unit),
    )


def on_interval(case: Case, start_s: float, end_s: float) -> Case:
    """Return the case on another interval, everything else as it was.

    Parameters
    ----------
    case
        Any case.
    start_s, end_s
        The interval, s.

    Returns
    -------
    Case
        Its ``extra`` names the interval.
    """
    recipe = replace(case.recipe, start_s=start_s, end_s=end_s)
    pair = paired(case.treated_reference, case.treated_candidate, recipe)
    extra = {"start_s": start_s, "end_s": end_s}
    return replace(
        case,
        recipe=recipe,
        pair=pair,
        rating=rated(pair, case.settings),
        poor=poor_error(pair, case.candidate.unit),
        extra=extra,
    )


def paired(reference: Signal, candidate: Signal, recipe: Recipe) -> AlignedPair | None:
    """Pair two conditioned signals on the interval, or on most of it where one ends early.

    Parameters
    ----------
    reference, candidate
        From ``condition``.
    recipe
        Its interval is used.

    Returns
    -------
    AlignedPair or None
        None where they share less than 60 % of the interval.
    """
    shared = max(reference.start_s, candidate.start_s), min(reference.end_s, candidate.end_s)
    start_s = shared[0] if recipe.start_s is None else max(recipe.start_s, shared[0])
    end_s = shared[1] if recipe.end_s is None else min(recipe.end_s, shared[1])
    wanted = recipe.end_s - recipe.start_s if None not in {recipe.start_s, recipe.end_s} else 0.0  # type: ignore[operator]
    if end_s <= start_s or end_s - start_s < LEAST_COVERED * wanted:
        return None
    try:
        return pair_conditioned(reference, candidate, replace(recipe, start_s=start_s, end_s=end_s)).pair
    except SignalError:
        return None


def rated(pair: AlignedPair | None, settings: RatingSettings) -> float | None:
    """Return the overall rating of a pair.

    Parameters
    ----------
    pair
        Or None.
    settings
        Of the rating.

    Returns
    -------
    float or None
        None without a pair or where its reference is zero throughout.
    """
    return None if pair is None or not np.any(pair.reference) else rate(pair, settings).overall


def poor_error(pair: AlignedPair | None, unit: str) -> float:
    """Return the squared error that a poor model's freedoms leave of a pair, or a wrong unit would.

    Parameters
    ----------
    pair
        Or None.
    unit
        Of the candidate as read.

    Returns
    -------
    float
        1 without a pair: nothing is explained.
    """
    if pair is None:
        return 1.0
    left = error_left(pair, POOR)
    factor = nearest_factor(size_ratio(pair.reference, pair.candidate), factors_for(unit))
    # A wrong unit must not be taken for a wrong axis.
    return left if factor is None else min(left, error_left(scaled(pair, 1 / factor), MODERATE))


def scaled(pair: AlignedPair, factor: float) -> AlignedPair:
    """Return the pair with its candidate multiplied, which conditioning would do alike before or after.

    Parameters
    ----------
    pair
        Any pair.
    factor
        Of the candidate.

    Returns
    -------
    AlignedPair
    """
    return AlignedPair(time=pair.time, reference=pair.reference, candidate=factor * pair.candidate)
