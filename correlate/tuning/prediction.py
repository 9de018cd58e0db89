"""Predicted outcomes of a run: from emulated curves, or from a surrogate where that is more accurate."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.display import short_repr
from correlate.errors import SettingsError
from correlate.tuning.gaussian_process import LeaveOneOut
from correlate.tuning.one_thread import in_one_thread
from correlate.tuning.surrogate import fit_surrogate, part_weights

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from correlate.tuning.curve_rating import CurveRater
    from correlate.tuning.emulator import CurveEmulator
    from correlate.tuning.runs import RunTable
    from correlate.tuning.surrogate import Surrogate

    Floats = NDArray[np.float64]


PRINTED_DRAWS: Final = 64
"""Number of draws for a printed prediction."""
WHOLE_CURVES: Final = ("window/", "criterion/", "feature/")
"""Outcomes that need whole curves; where curves are thinned they are predicted by their surrogates."""
_CHUNK: Final = 2048
"""Number of curves in memory at a time."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Draws:
    """Which errors are drawn: each draw has the leave-one-out errors of one run.

    Attributes
    ----------
    runs
        Places among the runs of the predictor, shape ``(s,)``.
    signs
        1, or -1 for errors with the opposite sign, shape ``(s,)``.
    """

    runs: NDArray[np.int64]
    signs: Floats


def draws_of(runs: int, count: int, seed: int = 0) -> Draws:
    """Choose draws in antithetic pairs, so that their mean is that of the prediction.

    Parameters
    ----------
    runs
        How many runs there are to take errors from.
    count
        How many draws, even.
    seed
        Of the choice.

    Returns
    -------
    Draws
    """
    random = np.random.default_rng(seed)
    half = count // 2
    chosen = np.concatenate([random.permutation(runs) for _ in range(-(-half // runs))])[:half]
    return Draws(runs=np.repeat(chosen, 2), signs=np.tile([1.0, -1.0], half))


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Guess:
    """A quick estimate of one outcome.

    Attributes
    ----------
    mean
        Shape ``(m,)``.
    deviation
        Approximate standard deviation of the mean, shape ``(m,)``.
    run_deviation
        The same including the noise of a run.
    """

    mean: Floats
    deviation: Floats
    run_deviation: Floats


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class OutcomePredictor:
    """Predicts outcomes of runs.

    A rating of several load cases is the weighted mean of its parts. Each part comes from emulated curves, or
    from a surrogate of the outcome itself: ratings from curves, other outcomes from that with the smaller
    leave-one-out error.

    Attributes
    ----------
    rows
        Rows of the table of runs that it was fitted to, shape ``(n,)``.
    rated
        Of each outcome and part, the values of these runs, shape ``(n,)``.
    parts
        Of each outcome, the weights of its parts; a single outcome is its own part with weight 1.
    surrogates
        Of the parts.
    by_curves
        Parts that come from curves.
    emulator, rater
        Of the curves; None where there are none.
    left_out_parts
        Of each part, the leave-one-out predictions of the runs, shape ``(n,)``.
    offsets
        Of the parts from curves, the mean of the rating of whole curves minus that of thinned ones.
    """

    rows: NDArray[np.int64]
    rated: Mapping[str, Floats]
    parts: Mapping[str, Mapping[str, float]]
    surrogates: Mapping[str, Surrogate]
    by_curves: frozenset[str]
    emulator: CurveEmulator | None
    rater: CurveRater | None
    left_out_parts: Mapping[str, Floats]
    offsets: Mapping[str, float]

    @property
    def outcomes(self) -> tuple[str, ...]:
        """Names of what can be predicted."""
        return tuple(self.parts)

    def source(self, outcome: str) -> str:
        """Say what an outcome is predicted from: ``curves``, ``ratings`` or ``both``."""
        curves = sum(part in self.by_curves for part in self.parts[outcome])
        return "ratings" if not curves else "curves" if curves == len(self.parts[outcome]) else "both"

    def flat(self, outcome: str) -> bool:
        """Say whether every run had the same outcome."""
        return all(self.surrogates[part].flat for part in self.parts[outcome])

    def trust(self, outcome: str) -> float:
        """Return the share of the variance that is predicted for left-out runs, nan where there is none.

        For an outcome from curves, the Q² of the curves if that is larger: errors of the ratings of curves
        that disagree with the tests say little about those of curves that agree.
        """
        curved = [part for part in self.parts[outcome] if part in self.by_curves and part in self._ratings]
        if not curved or self.emulator is None or self.rater is None:
            return self.left_out(outcome).q2
        return max(self.left_out(outcome).q2, self.emulator.q2(self.rater.needed(curved)))

    @property
    def _ratings(self) -> tuple[str, ...]:
        return () if self.rater is None else self.rater.ratings

    def left_out(self, outcome: str) -> LeaveOneOut:
        """Return the leave-one-out predictions; the deviation is the root mean square of all errors."""
        predicted = self._composed(outcome, self.left_out_parts)
        rated = self.rated[outcome]
        deviation = float(np.sqrt(np.mean((rated - predicted) ** 2)))
        return LeaveOneOut(rated=rated, predicted=predicted, deviation=np.full(rated.size, deviation))

    def means(self, cube: Floats, outcomes: Sequence[str], *, thin: bool = True) -> dict[str, Floats]:
        """Return the outcomes of the mean prediction.

        Parameters
        ----------
        cube
            Points of the unit cube, shape ``(m, d)``.
        outcomes
            Names.
        thin
            Whether about 100 samples of each curve are rated instead of all.

        Returns
        -------
        dict of str to numpy.ndarray
            Shape ``(m,)`` each.
        """
        curved = self._curved(outcomes, thin=thin)
        found = {name: self.surrogates[name].mean_cube(cube) for name in self._needed(outcomes) - {*curved}}
        if curved and self.emulator is not None and self.rater is not None:
            strides = self.rater.strides(thin=thin)
            places = self.rater.needed(curved)
            curves = {place: self.emulator.channels[place].predict(cube, strides[place]) for place in places}
            found |= self._rated(curves, curved, thin=thin)
        return {name: self._composed(name, found) for name in outcomes}

    def guess(self, cube: Floats, outcomes: Sequence[str]) -> dict[str, Guess]:
        """Return the outcomes of the mean prediction and their approximate deviations, quickly.

        The deviation of a part from curves is that of its surrogate, scaled to the leave-one-out errors of
        the part: an approximation of :meth:`draw`, which takes many times as long.
        """
        means = self.means(cube, outcomes)
        said = {part: self.surrogates[part].predict_cube(cube) for part in self._needed(outcomes)}
        found = {}
        for name in outcomes:
            variance, noise = np.zeros(len(cube)), 0.0
            for part, weight in self.parts[name].items():
                scale = weight * self._scale(part)
                variance += (scale * said[part].deviation) ** 2
                noise += (scale * said[part].noise) ** 2
            found[name] = Guess(
                mean=means[name], deviation=np.sqrt(variance), run_deviation=np.sqrt(variance + noise)
            )
        return found

    def _scale(self, part: str) -> float:
        """Return the ratio of the errors of a part to the deviations of its surrogate."""
        if part not in self.by_curves:
            return 1.0
        errors = self.rated[part] - self.left_out_parts[part]
        return float(np.sqrt(np.mean(errors**2) / np.mean(self.surrogates[part].left_out.deviation ** 2)))

    def believing(self, cube: Floats) -> OutcomePredictor:
        """Return the predictor as if its mean had been observed at points of the unit cube."""
        return replace(
            self,
            surrogates={part: one.believing(cube) for part, one in self.surrogates.items()},
            emulator=None if self.emulator is None else self.emulator.believing(cube),
        )

    def draw(
        self, cube: Floats, outcomes: Sequence[str], draws: Draws, *, thin: bool = True
    ) -> dict[str, Floats]:
        """Draw outcomes jointly.

        Parameters
        ----------
        cube
            Points of the unit cube, shape ``(m, d)``.
        outcomes
            Names.
        draws
            Which errors.
        thin
            As for :meth:`means`.

        Returns
        -------
        dict of str to numpy.ndarray
            Shape ``(m, s)`` each.
        """
        needed = self._needed(outcomes)
        curved = self._curved(outcomes, thin=thin)
        found = {name: self._drawn_rating(name, cube, draws) for name in needed - {*curved}}
        if curved:
            at_once = max(1, _CHUNK // len(draws.runs))
            parts = [
                self._drawn_curves(cube[first : first + at_once], curved, draws, thin=thin)
                for first in range(0, len(cube), at_once)
            ]
            found |= {name: np.concatenate([part[name] for part in parts]) for name in curved}
        return {name: self._composed(name, found) for name in outcomes}

    def printed(self, cube: Floats) -> dict[str, Floats]:
        """Draw every outcome for display: the rating of the mean curves, with the scatter of the draws.

        The mean curves are rated whole, the draws thinned. The mean of the draws would be biased: a point is
        proposed because its mean curves agree with the tests, and added errors can only reduce that
        agreement. Measured on two problems, the error of the rating of the mean curves was a fifth of that
        of the mean of the draws.

        Parameters
        ----------
        cube
            Points of the unit cube, shape ``(m, d)``.

        Returns
        -------
        dict of str to numpy.ndarray
            Shape ``(m, s)`` each.
        """
        draws = draws_of(len(self.rows), PRINTED_DRAWS)
        drawn = self.draw(cube, self.outcomes, draws)
        whole = self.means(cube, self.outcomes, thin=False)
        middle = {name: values.mean(axis=1, keepdims=True) for name, values in drawn.items()}
        return {name: whole[name][:, None] + drawn[name] - middle[name] for name in self.outcomes}

    def _drawn_rating(self, part: str, cube: Floats, draws: Draws) -> Floats:
        surrogate = self.surrogates[part]
        said = surrogate.predict_cube(cube)
        if surrogate.flat:
            return np.repeat(said.mean[:, None], len(draws.runs), axis=1)
        errors = (surrogate.left_out.rated - surrogate.left_out.predicted) / surrogate.left_out.deviation
        return np.asarray(
            said.mean[:, None] + said.run_deviation[:, None] * (draws.signs * errors[draws.runs])[None, :]
        )

    def _drawn_curves(
        self, cube: Floats, parts: Sequence[str], draws: Draws, *, thin: bool
    ) -> dict[str, Floats]:
        if self.emulator is None or self.rater is None:
            raise SettingsError("there are no curves")
        strides = self.rater.strides(thin=thin)
        curves = {}
        for place in self.rater.needed(parts):
            drawn = self.emulator.channels[place].draw(cube, draws.runs, draws.signs, strides[place])
            curves[place] = drawn.reshape(-1, drawn.shape[2])
        found = self._rated(curves, parts, thin=thin)
        return {name: values.reshape(len(cube), len(draws.runs)) for name, values in found.items()}

    def _rated(self, curves: Mapping[int, Floats], parts: Sequence[str], *, thin: bool) -> dict[str, Floats]:
        if self.rater is None:
            raise SettingsError("curves cannot be rated")
        found = self.rater.outcomes(curves, parts, thin=thin)
        return {name: values + (self.offsets[name] if thin else 0.0) for name, values in found.items()}

    def _curved(self, outcomes: Sequence[str], *, thin: bool) -> list[str]:
        """Return the parts that come from curves; windows cannot be measured on thinned ones."""
        found = self._needed(outcomes) & self.by_curves
        return sorted(part for part in found if not (thin and part.startswith(WHOLE_CURVES)))

    def _needed(self, outcomes: Sequence[str]) -> set[str]:
        return {part for name in outcomes for part in self.parts[name]}

    def _composed(self, outcome: str, parts: Mapping[str, Floats]) -> Floats:
        weighted = [weight * parts[part] for part, weight in self.parts[outcome].items()]
        return np.asarray(np.sum(weighted, axis=0))


@in_one_thread
def fit_predictor(
    table: RunTable,
    outcomes: Sequence[str],
    emulator: CurveEmulator | None = None,
    rater: CurveRater | None = None,
) -> OutcomePredictor:
    """Fit the predictor of outcomes, and choose for each part what predicts it.

    Parameters
    ----------
    table
        Of the runs.
    outcomes
        To predict.
    emulator, rater
        Of the curves; without them every outcome comes from surrogates.

    Returns
    -------
    OutcomePredictor

    Raises
    ------
    SettingsError
        Too few runs are finished.
    """
    rows = np.flatnonzero(
        table.done & np.all([np.isfinite(table.outcome(name)) for name in outcomes], axis=0)
    )
    if emulator is not None:
        rows = np.intersect1d(rows, emulator.rows)
    known = table.select(rows)
    weights = {name: part_weights(known, name, np.arange(len(rows))) or {name: 1.0} for name in outcomes}
    parts = list(dict.fromkeys(part for one in weights.values() for part in one))
    surrogates = {part: fit_surrogate(known, part) for part in parts}
    left_out = {part: surrogates[part].left_out.predicted for part in parts}
    offsets: dict[str, float] = {}
    if emulator is not None and rater is not None:
        mine = np.searchsorted(emulator.rows, rows)
        whole, thinned = _left_out_of_curves(emulator, rater, parts, mine)
        for part, predicted in whole.items():
            rated = known.outcomes[part]
            if surrogates[part].flat:
                continue
            # Left-out runs of a design lie where ratings are low, and say little about how well the best are
            # predicted: ratings always come from curves. A window is a distance, and errors are comparable.
            if part in rater.ratings or _error(rated, predicted) < _error(rated, left_out[part]):
                offsets[part] = float(np.mean(predicted - thinned[part]))
                left_out[part] = predicted
    names = {*outcomes, *parts}
    return OutcomePredictor(
        rows=rows,
        rated={name: np.array(known.outcomes[name]) for name in names},
        parts=weights,
        surrogates=surrogates,
        by_curves=frozenset(offsets),
        emulator=emulator,
        rater=rater,
        left_out_parts=left_out,
        offsets=offsets,
    )


def _left_out_of_curves(
    emulator: CurveEmulator, rater: CurveRater, parts: Sequence[str], runs: NDArray[np.int64]
) -> tuple[dict[str, Floats], dict[str, Floats]]:
    """Return leave-one-out predictions of the parts that curves provide, from whole and thinned curves."""
    kinds = ("component/", *WHOLE_CURVES)
    mine = [name for name in parts if name in rater.ratings or name.startswith(kinds)]
    if not mine:
        return {}, {}
    whole = {place: emulator.channels[place].left_out[runs] for place in rater.needed(mine)}
    strides = rater.strides(thin=True)
    thinned = {place: curves[:, :: strides[place]] for place, curves in whole.items()}
    found = rater.outcomes(whole, mine)
    finite = {name: values for name, values in found.items() if np.isfinite(values).all()}
    rated = [name for name in finite if not name.startswith(WHOLE_CURVES)]
    return finite, finite | (rater.outcomes(thinned, rated, thin=True) if rated else {})


def _error(rated: Floats, predicted: Floats) -> float:
    return float(np.sum((rated - predicted) ** 2))


def predict_from_curves(
    emulator: CurveEmulator, rater: CurveRater, cube: Floats, outcomes: Sequence[str]
) -> dict[str, Floats]:
    """Draw outcomes of one point from whole curves, without surrogates.

    Parameters
    ----------
    emulator, rater
        Of the curves.
    cube
        Point of the unit cube, shape ``(d,)``.
    outcomes
        Names; those that cannot be computed from curves are left out.

    Returns
    -------
    dict of str to numpy.ndarray
        Shape ``(s,)`` each: the outcome of the mean curves, with the scatter of the draws about their mean.
    """
    draws = draws_of(len(emulator.rows), PRINTED_DRAWS)
    places = rater.needed(outcomes)
    point = cube[None, :]
    whole = rater.outcomes({place: emulator.channels[place].predict(point) for place in places}, outcomes)
    drawn = rater.outcomes(
        {place: emulator.channels[place].draw(point, draws.runs, draws.signs)[0] for place in places},
        outcomes,
    )
    return {
        name: whole[name] + drawn[name] - np.nanmean(drawn[name])
        for name in outcomes
        if name in whole and name in drawn and np.isfinite(whole[name]).all()
    }
