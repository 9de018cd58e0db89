"""The surrogate of the outcomes, its calibration, and how well it predicts what it has not seen."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.display import short_repr
from correlate.errors import SettingsError
from correlate.tuning.gaussian_process import LeaveOneOut, Prediction, fit_process
from correlate.tuning.one_thread import in_one_thread
from correlate.tuning.runs import HELD_OUT, OVERALL, TRAIN, outcome_name

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    from correlate.tuning.gaussian_process import GaussianProcess
    from correlate.tuning.parameters import ParameterSpace
    from correlate.tuning.runs import RunTable

    Floats = NDArray[np.float64]


LEVELS: Final = (0.5, 0.8, 0.95)
"""Shares of the runs that the intervals promise to hold."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Coverage:
    """How often one interval held.

    Attributes
    ----------
    nominal
        Share that was promised.
    observed
        Share of the runs inside.
    runs
        How many were looked at.
    """

    nominal: float
    observed: float
    runs: int

    @property
    def chance(self) -> float:
        """Standard deviation that the observed share has by chance alone when the promise is kept."""
        return float(np.sqrt(self.nominal * (1 - self.nominal) / self.runs))


def half_width(level: float) -> float:
    """Return the half width of a normal interval, in standard deviations.

    Examples
    --------
    >>> round(half_width(0.95), 6)
    1.959964
    """
    if not 0 < level < 1:
        raise SettingsError(
            f"an interval cannot hold a share of {level:g}", remedy="give one between 0 and 1"
        )
    from scipy.special import ndtri  # noqa: PLC0415 - slow to import

    return float(ndtri(0.5 + level / 2))


def calibration(said: LeaveOneOut, levels: Sequence[float] = LEVELS) -> tuple[Coverage, ...]:
    """Count the runs inside the intervals that the other runs gave."""
    distance = np.abs(said.rated - said.predicted)
    return tuple(
        Coverage(
            nominal=level,
            observed=float(np.mean(distance <= half_width(level) * said.deviation)),
            runs=said.rated.size,
        )
        for level in levels
    )


EXACT: Final = 1e-9
"""Largest difference between a rating and the weighted mean of its parts that counts as rounding."""


def part_names(table: RunTable, outcome: str) -> tuple[str, ...]:
    """Name the outcomes that a rating may be a weighted mean of."""
    if outcome not in {OVERALL, TRAIN, HELD_OUT}:
        return ()
    return tuple(name for name in table.outcomes if name.startswith(outcome_name("load case", "")))


def part_weights(table: RunTable, outcome: str, rows: NDArray[np.int64]) -> dict[str, float]:
    """Find the weights with which a rating is the mean of its parts in every run.

    The weights of a campaign are not handed down to here, and need not be: with more runs than parts, at
    most one set of weights reproduces every run to the last digit.
    """
    from scipy.optimize import nnls  # noqa: PLC0415 - slow to import

    names = part_names(table, outcome)
    parts = np.array([table.outcomes[name][rows] for name in names]).T
    if not names or rows.size <= len(names) or not np.isfinite(parts).all():
        return {}
    values = table.outcomes[outcome][rows]
    weights, _ = nnls(parts, values)
    if np.abs(parts @ weights - values).max() > EXACT or abs(weights.sum() - 1) > np.sqrt(EXACT):
        return {}
    return {name: float(weight) for name, weight in zip(names, weights, strict=True) if weight > EXACT}


LEAST_RUNS: Final = 5
RUNS_PER_PARAMETER: Final = 2
"""Common practice, from which a surrogate usually is reliable."""
"""Fewer finished runs than this make no surrogate. Chosen here."""
LEAST_Q2: Final = 0.5
"""Below this nothing is recommended unless the user says so."""
FLAT: Final = 1e-9
"""An outcome that varies by less than this share of its size does not vary. Chosen here: rounding."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Surrogate:
    """A guess of one outcome over the whole box.

    Attributes
    ----------
    outcome
        Its name.
    space
        The box.
    rows
        Rows of the table of runs that it knows, shape ``(n,)``.
    processes
        Gaussian processes whose weighted sum it is: one, or one for each part of a weighted rating. None
        for an outcome that is the same in every run.
    weights
        Of the processes.
    parts
        Outcomes that the processes are of.
    constant
        Added to the sum.
    left_out
        Each run predicted from the others.
    """

    outcome: str
    space: ParameterSpace
    rows: NDArray[np.int64]
    processes: tuple[GaussianProcess, ...]
    weights: tuple[float, ...]
    parts: tuple[str, ...]
    constant: float
    left_out: LeaveOneOut

    @property
    def flat(self) -> bool:
        """Whether every run had the same outcome."""
        return not self.processes

    @property
    def q2(self) -> float:
        """Share of the variance that leave-one-out predicts; nan when there is none."""
        return self.left_out.q2

    @property
    def coverage(self) -> tuple[Coverage, ...]:
        """How many runs were inside the intervals that the others gave."""
        return calibration(self.left_out)

    @property
    def converged(self) -> bool:
        """Whether the search for the settings of every process came to an end by itself."""
        return all(process.settings.converged for process in self.processes)

    def predict(self, points: Floats) -> Prediction:
        """Predict at points in the units of the parameters, shape ``(m, d)``."""
        return self.predict_cube(self.space.to_unit(np.atleast_2d(points)))

    def predict_cube(self, cube: Floats) -> Prediction:
        """Predict at points of the unit cube, shape ``(m, d)``."""
        mean, noise = np.full(len(cube), self.constant), 0.0
        variance, bound = np.zeros(len(cube)), np.zeros(len(cube))
        for weight, process in zip(self.weights, self.processes, strict=True):
            said = process.predict(cube)
            mean += weight * said.mean
            variance += (weight * said.deviation) ** 2
            bound += weight * said.deviation
            noise += (weight * said.noise) ** 2
        return Prediction(mean=mean, deviation=np.sqrt(variance), bound=bound, noise=float(np.sqrt(noise)))

    def mean_cube(self, cube: Floats) -> Floats:
        """Predict the mean alone at points of the unit cube, shape ``(m, d)``."""
        mean = np.full(len(cube), self.constant)
        for weight, process in zip(self.weights, self.processes, strict=True):
            mean += weight * process.mean(cube)
        return mean

    def believing(self, cube: Floats) -> Surrogate:
        """Return the surrogate as if its mean had been observed at points of the unit cube."""
        return replace(self, processes=tuple(process.believing(cube) for process in self.processes))


def fit_surrogate(table: RunTable, outcome: str) -> Surrogate:
    """Fit the surrogate of one outcome to the finished runs.

    A rating that is a weighted mean of ratings of load cases in every run is guessed from those too, each by
    a process of its own, because each depends on few parameters; of the two guesses the one with the
    smaller leave-one-out error is kept.
    """
    return fit_surrogates(table, [outcome])[outcome]


@in_one_thread
def fit_surrogates(table: RunTable, outcomes: Sequence[str]) -> dict[str, Surrogate]:
    """Fit the surrogates of several outcomes, those that share parts from one fit of each part."""
    single: dict[str, Surrogate] = {}
    for outcome in outcomes:
        _fit_once(table, outcome, single)
    fitted: dict[str, Surrogate] = {}
    for outcome in outcomes:
        weights = part_weights(table, outcome, single[outcome].rows)
        for part in weights:
            _fit_once(table, part, single)
        parts = {single[part]: weight for part, weight in weights.items()}
        summed = [_summed(single[outcome], parts)] if parts else []
        fitted[outcome] = min([single[outcome], *summed], key=lambda one: one.left_out.error)
    return fitted


def untrusted(surrogate: Surrogate, least_q2: float = LEAST_Q2) -> bool:
    """Say whether nothing should be recommended from a surrogate."""
    return not surrogate.flat and not surrogate.q2 >= least_q2


def _fit_once(table: RunTable, outcome: str, fitted: dict[str, Surrogate]) -> None:
    """Fit one process to an outcome, unless that was done."""
    if outcome in fitted:
        return
    values = table.outcome(outcome)
    rows = np.flatnonzero(table.done & np.isfinite(values))
    if rows.size < LEAST_RUNS:
        raise SettingsError(
            f"outcome '{outcome}' has {rows.size} finished runs, too few for a surrogate",
            remedy=f"run {LEAST_RUNS} points or more; two or more a parameter are common practice",
        )
    known = np.array(values[rows])
    flat = bool(np.ptp(known) <= FLAT * np.abs(known).max())
    process = () if flat else (fit_process(table.space.to_unit(table.points[rows]), known),)
    fitted[outcome] = Surrogate(
        outcome=outcome,
        space=table.space,
        rows=rows,
        processes=process,
        weights=(1.0,) * len(process),
        parts=(outcome,) * len(process),
        constant=float(known.mean()) if flat else 0.0,
        left_out=process[0].left_out() if process else _as_rated(known),
    )


def _as_rated(known: Floats) -> LeaveOneOut:
    return LeaveOneOut(rated=known, predicted=known, deviation=np.zeros(known.size))


def _summed(direct: Surrogate, weights: dict[Surrogate, float]) -> Surrogate:
    """Sum the surrogates of the parts; all know the same runs, because every run has every part.

    Deviations are added as they are: no correlation of the errors makes that of the sum larger.
    """
    predicted = np.sum([weight * part.left_out.predicted for part, weight in weights.items()], axis=0)
    deviation = np.sum([weight * part.left_out.deviation for part, weight in weights.items()], axis=0)
    moving = {part: weight for part, weight in weights.items() if not part.flat}
    return replace(
        direct,
        processes=tuple(part.processes[0] for part in moving),
        weights=tuple(moving.values()),
        parts=tuple(part.outcome for part in moving),
        constant=sum(weight * part.constant for part, weight in weights.items()),
        left_out=LeaveOneOut(rated=direct.left_out.rated, predicted=predicted, deviation=deviation),
    )
