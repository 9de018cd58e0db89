"""The search for data-handling errors in one pair."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from correlate.diagnosis.suspects.axes import other_axis
from correlate.diagnosis.suspects.case import open_case
from correlate.diagnosis.suspects.cut import widened
from correlate.diagnosis.suspects.filtering import wrong_filter
from correlate.diagnosis.suspects.offset_window import disturbed_offset_window
from correlate.diagnosis.suspects.polarity import turned_sign
from correlate.diagnosis.suspects.time_zero import wrong_time_zero
from correlate.diagnosis.suspects.unit import wrong_unit

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence

    from correlate.conditioning import Recipe
    from correlate.diagnosis.suspects.case import Case
    from correlate.diagnosis.suspects.suspect import Suspect
    from correlate.metrics.iso18571 import RatingSettings
    from correlate.signal import Signal

EXAMINATIONS: Final[tuple[Callable[[Case], Iterator[Suspect]], ...]] = (
    turned_sign,
    wrong_unit,
    other_axis,
    wrong_time_zero,
    wrong_filter,
    disturbed_offset_window,
)
"""Each looks for one kind of mistake; they do not know each other."""
FILTERS: Final = ("filtered twice", "other filter class", "not filtered")
NO_AXES: Final[Mapping[str, Signal]] = MappingProxyType({})


def suspects(
    reference: Signal,
    candidate: Signal,
    recipe: Recipe,
    settings: RatingSettings | None = None,
    *,
    other_axes: Mapping[str, Signal] = NO_AXES,
) -> tuple[Suspect, ...]:
    """Look for a mistake in the book-keeping that would explain a poor rating.

    One mistake at a time is tried; of two that meet in one pair the search may miss both. A suspect is a
    reason to look, not a verdict: nothing is changed, and a model that happens to err like a mistake looks
    the same.

    Parameters
    ----------
    reference, candidate
        As read, before the recipe.
    recipe
        How they are compared.
    settings
        Of the rating; the published ones when left out.
    other_axes
        The other axes of the candidate's sensor, as read, by name.

    Returns
    -------
    tuple of Suspect
        The most convincing first; empty when the model seems honestly good or honestly poor.

    Raises
    ------
    UnitError, SignalError
        The signals measure different things, or one of them does not allow a step of the recipe.

    References
    ----------
    .. [1] Criteria derived here; measured on planted mistakes, see the page on suspects.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate import Recipe, Signal
    >>> curve = np.sin(np.pi * np.clip(np.arange(-200, 800) / 300, 0, 1)) ** 2
    >>> grid = {"start_s": -0.02, "step_s": 1e-4, "channel": "head ax"}
    >>> test = Signal(samples=40 * curve, unit="g", **grid)
    >>> model = Signal(samples=390 * curve, unit="g", **grid)
    >>> found = suspects(test, model, Recipe(cfc=180, start_s=0.0, end_s=0.05))
    >>> [suspect.kind for suspect in found], dict(found[0].change)["candidate_unit"]
    (['unit wrong'], 'm/s^2')
    """
    case, cut = widened(open_case(reference, candidate, recipe, settings, other_axes))
    found = [suspect for examine in EXAMINATIONS for suspect in examine(case)]
    return best_first([*found, cut] if cut is not None else found)


def best_first(found: Sequence[Suspect]) -> tuple[Suspect, ...]:
    """Order suspects.

    Parameters
    ----------
    found
        In any order.

    Returns
    -------
    tuple of Suspect
        By falling weight; but a filter too low smears a pulse beyond its interval, so that an interval comes
        behind a filter.
    """
    filtered = any(suspect.kind in FILTERS for suspect in found)

    def key(suspect: Suspect) -> float:
        behind = filtered and suspect.kind == "interval cuts the main pulse"
        return 0.0 if behind else -suspect.weight

    return tuple(sorted(found, key=key))
