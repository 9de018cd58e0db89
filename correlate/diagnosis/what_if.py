"""What if the model were a little earlier, larger, higher or slower: the rating after a simple change.

A change that is one number for the whole curve and wins nearly everything back points to book-keeping: a time
zero, a unit, an offset. One that wins little leaves the error to the model.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.diagnosis.what_if_change import CurveChange, apply_change, changed
from correlate.diagnosis.what_if_search import KINDS, ChangeSearch, Kind
from correlate.display import short_repr
from correlate.metrics.iso18571 import Rating, RatingSettings, rate

if TYPE_CHECKING:
    from correlate.pair import AlignedPair

__all__ = ["CurveChange", "Improvement", "WhatIf", "apply_change", "what_if"]


@short_repr
@dataclass(frozen=True, slots=True)
class Improvement:
    """The best change of one kind.

    Attributes
    ----------
    change
        The change; none at all where nothing helps.
    rating
        After it; never below the rating of the unchanged pair.
    gain
        How much higher that is.
    at_limit
        What stopped at a bound of the search, by the names of ``CurveChange``.
    """

    change: CurveChange
    rating: Rating
    gain: float
    at_limit: tuple[Kind, ...] = ()


@short_repr
@dataclass(frozen=True, slots=True)
class WhatIf:
    """The rating that simple changes of the model curve would give.

    Attributes
    ----------
    unchanged
        As it is.
    shift, scale, offset, stretch
        The best change of each kind alone.
    together
        The best of all four at once.
    """

    unchanged: Rating
    shift: Improvement
    scale: Improvement
    offset: Improvement
    stretch: Improvement
    together: Improvement


def what_if(pair: AlignedPair, settings: RatingSettings | None = None) -> WhatIf:
    """Find the change of each kind, and of all kinds together, that gives the highest rating.

    Parameters
    ----------
    pair
        As it was rated.
    settings
        Of the rating; the published ones when left out.

    Returns
    -------
    WhatIf

    Raises
    ------
    SignalError
        The pair cannot be rated.

    Notes
    -----
    Each search of one kind begins at the closed form (shift of highest correlation; least squares for scale
    and offset), tries a row of values around it, and narrows the row three times. All four together begin at
    a row of stretches, each with the shift of highest correlation and the scale and offset of least squares;
    from the two best a simplex search goes on. The search is bounded: shift by the largest shift of the
    settings, scale from a third to three times, offset by half of the test's largest absolute value, stretch
    from 0.7 to 1.4. A curve with several nearly equal optima may hide the best one.

    References
    ----------
    .. [1] Nelder, Mead, "A simplex method for function minimization", Computer Journal 7 (1965).
    .. [2] The closed forms: least squares, any textbook; derived here.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate import AlignedPair
    >>> time = np.arange(1000) * 1e-4
    >>> test = np.exp(-(((time - 0.04) / 0.01) ** 2))
    >>> found = what_if(AlignedPair(time=time, reference=test, candidate=1.25 * test))
    >>> round(found.scale.change.scale, 2), found.scale.rating.grade
    (0.8, 'excellent')
    """
    chosen = settings or RatingSettings()
    unchanged = rate(pair, chosen)
    search = ChangeSearch(pair, chosen)

    def improved(change: CurveChange) -> Improvement:
        after = rate(changed(pair, change), chosen)
        if after.overall <= unchanged.overall:
            return Improvement(CurveChange(), unchanged, 0.0)
        return Improvement(change, after, after.overall - unchanged.overall, search.at_limit(change))

    shift, scale, offset, stretch = (improved(search.alone(kind)) for kind in KINDS)
    candidates = (improved(search.together()), shift, scale, offset, stretch)
    best = max(candidates, key=lambda one: one.rating.overall)
    return WhatIf(unchanged, shift, scale, offset, stretch, best)
