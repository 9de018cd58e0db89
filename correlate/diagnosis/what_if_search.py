"""The search for the change of a model curve that gives the highest rating."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Final, Literal

import numpy as np

from correlate.diagnosis.what_if_change import CurveChange, changed
from correlate.metrics.iso18571 import RatingSettings, rate, rate_many
from correlate.metrics.iso18571.phase import phase_score
from correlate.pair import AlignedPair

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

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
    """Keep every k-th sample of a long pair, and the average over the slope about as long in time.

    Parameters
    ----------
    pair
        Shape ``(n,)``.
    settings
        Of the rating.

    Returns
    -------
    pair : AlignedPair
        At most ``SEARCHED_SAMPLES`` samples.
    settings : RatingSettings
        Of its rating.
    """
    every = -(-len(pair) // SEARCHED_SAMPLES)
    if every == 1:
        return pair, settings
    fewer = AlignedPair(
        time=pair.time[::every], reference=pair.reference[::every], candidate=pair.candidate[::every]
    )
    half = round(settings.slope_average_samples / every) // 2
    return fewer, replace(settings, slope_average_samples=2 * half + 1)


class ChangeSearch:
    """Looks for the change of highest rating on one pair.

    Parameters
    ----------
    pair
        Long ones are thinned.
    settings
        Of the rating.
    """

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
        """Return the best change of one kind.

        Parameters
        ----------
        kind
            What is changed.

        Returns
        -------
        CurveChange
            None at all where nothing helps.
        """
        best = CurveChange()
        centre, step = self._closed_form(kind), self._reach[kind]
        for _ in range(_ROUNDS):
            row = np.clip(centre + step * np.linspace(-1, 1, _TRIES), *self._bounds[kind])
            tries = [best, *(replace(CurveChange(), **{kind: float(value)}) for value in row)]
            best = tries[int(np.argmax(self._overall(tries)))]
            centre, step = getattr(best, kind), step / 4
        return best

    def at_limit(self, change: CurveChange) -> tuple[Kind, ...]:
        """Return what stopped at a bound of the search, so that more of it might win more.

        Parameters
        ----------
        change
            That was found.

        Returns
        -------
        tuple of str
            By the names of ``CurveChange``.
        """
        return tuple(
            kind
            for kind, (low, high) in self._bounds.items()
            if not low + NEAR * (high - low) < getattr(change, kind) < high - NEAR * (high - low)
        )

    def together(self) -> CurveChange:
        """Return the best change of all kinds at once.

        Returns
        -------
        CurveChange
            The better end of the climbs from the two best starts.
        """
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
