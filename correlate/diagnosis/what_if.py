"""What a pair would rate if the model were shifted, scaled, offset or stretched."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from correlate.display import short_repr
from correlate.errors import SettingsError
from correlate.metrics.iso18571 import Rating, RatingSettings, rate, rate_many
from correlate.metrics.iso18571.phase import phase_score
from correlate.pair import AlignedPair

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class CurveChange:
    """A change of the whole model curve: ``scale · c((t - shift - t0) / stretch + t0) + offset``.

    Attributes
    ----------
    shift_s
        Added to the times of the model, s: positive makes it later.
    scale
        Factor on the values.
    offset
        Added to the values, in their unit.
    stretch
        Factor on the time since the first sample: above 1 makes the model slower.
    """

    shift_s: float = 0.0
    scale: float = 1.0
    offset: float = 0.0
    stretch: float = 1.0


def apply_change(
    pair: AlignedPair, *, shift_s: float = 0.0, scale: float = 1.0, offset: float = 0.0, stretch: float = 1.0
) -> AlignedPair:
    r"""CurveChange the candidate of a pair, for a question and never for a result.

    .. math:: c'(t) = s\,c\left(t_0 + \frac{t - \Delta - t_0}{q}\right) + o

    Parameters
    ----------
    pair
        Shape ``(n,)``.
    shift_s
        :math:`\Delta`, s: positive makes the candidate later.
    scale, offset
        :math:`s`, dimensionless, and :math:`o`, in the unit of the curves.
    stretch
        :math:`q`, dimensionless, above 0: above 1 makes the candidate slower.

    Returns
    -------
    AlignedPair
        On the same grid: linear between the samples; before the first and after the last sample the curve
        keeps its end value.

    Raises
    ------
    SettingsError
        A value that is not finite, or a stretch that is not above 0.

    References
    ----------
    .. [1] Derived here.

    Examples
    --------
    >>> pair = AlignedPair(time=[0.0, 1.0, 2.0], reference=[0, 1, 0], candidate=[0, 2, 4])
    >>> apply_change(pair, shift_s=1.0, scale=0.5).candidate.tolist()
    [0.0, 0.0, 1.0]
    """
    if not (np.isfinite([shift_s, scale, offset, stretch]).all() and stretch > 0):
        raise SettingsError(
            f"a change by shift {shift_s} s, scale {scale}, offset {offset}, stretch {stretch} is impossible",
            remedy="give finite numbers and a stretch above 0",
        )
    start = pair.time[0]
    asked = start + (pair.time - shift_s - start) / stretch
    moved = pair.candidate if shift_s == 0 and stretch == 1 else np.interp(asked, pair.time, pair.candidate)
    return AlignedPair(time=pair.time, reference=pair.reference, candidate=scale * moved + offset)


def changed(pair: AlignedPair, change: CurveChange) -> AlignedPair:
    """Apply a change that was found."""
    return apply_change(
        pair,
        shift_s=change.shift_s,
        scale=change.scale,
        offset=change.offset,
        stretch=change.stretch,
    )


Kind = Literal["shift_s", "scale", "offset", "stretch"]
KINDS: Final[tuple[Kind, ...]] = ("shift_s", "scale", "offset", "stretch")
"""What can be changed, by the names of ``CurveChange``."""

SEARCHED_SAMPLES: Final = 1_000
"""Longer pairs are searched on every k-th sample; what is reported is always rated on all samples."""
SCALES: Final = (1 / 3, 3.0)
"""Bounds of the factor."""
STRETCHES: Final = (0.7, 1.4)
"""Bounds of the stretch in time."""
HIGHEST_OFFSET: Final = 0.5
"""Bound of the offset, as a share of the test's largest absolute value."""
NEAR: Final = 1e-3
"""A value this near to a bound, as a share of the range, has stopped there; a simplex may halt short."""

_ROUNDS: Final = 4
_TRIES: Final = 9
_STARTS: Final = 15
_CLIMBED: Final = 2
_MOST_STEPS: Final = 90


def thinned(pair: AlignedPair, settings: RatingSettings) -> tuple[AlignedPair, RatingSettings]:
    """Keep every k-th sample of a long pair, and the average over the slope about as long in time."""
    every = -(-len(pair) // SEARCHED_SAMPLES)
    if every == 1:
        return pair, settings
    fewer = AlignedPair(
        time=pair.time[::every], reference=pair.reference[::every], candidate=pair.candidate[::every]
    )
    half = round(settings.slope_average_samples / every) // 2
    return fewer, replace(settings, slope_average_samples=2 * half + 1)


class ChangeSearch:
    """Looks for the change of highest rating on one pair."""

    def __init__(self, pair: AlignedPair, settings: RatingSettings) -> None:
        self._pair, self._settings = thinned(pair, settings)
        unit = float(np.abs(pair.reference).max())
        duration_s = len(pair) * pair.step_s
        most_s = settings.largest_shift * duration_s
        self._bounds: dict[Kind, tuple[float, float]] = {
            "shift_s": (-most_s, most_s),
            "scale": SCALES,
            "offset": (-HIGHEST_OFFSET * unit, HIGHEST_OFFSET * unit),
            "stretch": STRETCHES,
        }
        # Half the width of the first row of tries.
        self._reach: dict[Kind, float] = {
            "shift_s": 0.02 * duration_s,
            "scale": 0.2,
            "offset": 0.1 * unit,
            "stretch": 0.35,
        }

    def alone(self, kind: Kind) -> CurveChange:
        """Return the best change of one kind."""
        best = CurveChange()
        centre, step = self._closed_form(kind), self._reach[kind]
        for _ in range(_ROUNDS):
            row = np.clip(centre + step * np.linspace(-1, 1, _TRIES), *self._bounds[kind])
            tries = [best, *(replace(CurveChange(), **{kind: float(value)}) for value in row)]
            best = tries[int(np.argmax(self._overall(tries)))]
            centre, step = getattr(best, kind), step / 4
        return best

    def at_limit(self, change: CurveChange) -> tuple[Kind, ...]:
        """Return what stopped at a bound of the search, so that more of it might win more."""
        return tuple(
            kind
            for kind, (low, high) in self._bounds.items()
            if not low + NEAR * (high - low) < getattr(change, kind) < high - NEAR * (high - low)
        )

    def together(self) -> CurveChange:
        """Return the best change of all kinds at once."""
        starts = [self._start(float(stretch)) for stretch in np.linspace(*STRETCHES, _STARTS)]
        order = np.argsort(-self._overall(starts), kind="stable")[:_CLIMBED]
        ends = [self._climbed(starts[index]) for index in order]
        return ends[int(np.argmax(self._overall(ends)))]

    def _start(self, stretch: float) -> CurveChange:
        """Return the shift of highest correlation, then scale and offset by least squares."""
        slower = changed(self._pair, CurveChange(stretch=stretch))
        shift_s = self._bounded("shift_s", -self._delay_s(slower))
        moved = changed(self._pair, CurveChange(stretch=stretch, shift_s=shift_s))
        test, model = moved.reference, moved.candidate
        centred = model - model.mean()
        spread = float(centred @ centred)
        scale = self._bounded("scale", float(centred @ test) / spread if spread > 0 else 1.0)
        offset = self._bounded("offset", float(np.mean(test - scale * model)))
        return CurveChange(shift_s=shift_s, scale=scale, offset=offset, stretch=stretch)

    def _climbed(self, start: CurveChange) -> CurveChange:
        """Go on from a start by a simplex search in units of the first rows."""
        from scipy.optimize import minimize  # noqa: PLC0415 - takes long to import

        sizes = np.array([self._reach[kind] / 4 for kind in KINDS])
        limits = np.array([self._bounds[kind] for kind in KINDS]) / sizes[:, None]

        def change_of(values: Floats) -> CurveChange:
            return CurveChange(**dict(zip(KINDS, (values * sizes).tolist(), strict=True)))

        def lost(values: Floats) -> float:
            return -rate(changed(self._pair, change_of(values)), self._settings).overall

        begin: Floats = np.array([getattr(start, kind) for kind in KINDS]) / sizes
        # Away from a bound that is near, because corners cut off there would leave the simplex flat.
        steps = np.where(begin + 0.5 > limits[:, 1], -0.5, 0.5)
        simplex = np.vstack([begin, begin + np.diag(steps)])
        options: Any = {"maxfev": _MOST_STEPS, "xatol": 1e-3, "fatol": 1e-5, "initial_simplex": simplex}
        bounds = [(float(low), float(high)) for low, high in limits]
        return change_of(minimize(lost, begin, method="Nelder-Mead", bounds=bounds, options=options).x)

    def _overall(self, changes: Sequence[CurveChange]) -> Floats:
        pairs = [changed(self._pair, change) for change in changes]
        return np.array([rating.overall for rating in rate_many(pairs, self._settings)])

    def _closed_form(self, kind: Kind) -> float:
        """Return where the search of one kind begins."""
        test, model = self._pair.reference, self._pair.candidate
        if kind == "shift_s":
            return -self._delay_s(self._pair)
        if kind == "scale":
            energy = float(model @ model)
            return float(test @ model) / energy if energy > 0 else 1.0
        return float(np.mean(test - model)) if kind == "offset" else 1.0

    def _delay_s(self, pair: AlignedPair) -> float:
        return phase_score(pair, self._settings).delay_samples * pair.step_s

    def _bounded(self, kind: Kind, value: float) -> float:
        return float(np.clip(value, *self._bounds[kind]))


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
