"""Bounds at which the best runs lie, and what widening them may gain."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.tuning.guards import best_row, within_limits
from correlate.tuning.parameters import BOUND_SHARE
from correlate.tuning.prediction import PRINTED_DRAWS, draws_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.tuning.definition import TuningGoal
    from correlate.tuning.parameters import Parameter
    from correlate.tuning.prediction import OutcomePredictor
    from correlate.tuning.runs import RunTable

    Floats = NDArray[np.float64]


LOOKED_AT: Final = 5
"""Number of best runs that are considered. Chosen here."""
LEAST_AT_BOUND: Final = 3
"""So many of them must lie at a bound for it to be reported. Chosen here."""
WIDER: Final = 0.1
"""Share of the range by which a bound is widened in the estimate. Chosen here."""


@dataclass(frozen=True, slots=True, kw_only=True)
class BoundGain:
    """One bound at which the best runs lie.

    Attributes
    ----------
    parameter
        Whose bound it is.
    upper
        Whether it is the upper one.
    runs
        How many of the best runs are at it.
    widened
        The bound once it is widened by a tenth of the range.
    gain, low, high
        What the objective of the best run is expected to gain there, and the interval that holds 95 % of the
        draws. It is an extrapolation: an indication of where to look, not a prediction to rely on.
    """

    parameter: Parameter
    upper: bool
    runs: int
    widened: float
    gain: float
    low: float
    high: float

    @property
    def words(self) -> str:
        """One sentence."""
        side, bound = ("upper", self.parameter.upper) if self.upper else ("lower", self.parameter.lower)
        unit = "" if self.parameter.unit == "1" else f" {self.parameter.unit}"
        gain, low, high = (f"{value:+.3f}".replace("-", "−") for value in (self.gain, self.low, self.high))
        return (
            f"{self.runs} of the best runs have '{self.parameter.name}' at its {side} bound of "
            f"{bound:.4g}{unit}; with {self.widened:.4g}{unit} the objective is expected to change by {gain} "
            f"(95 % of the draws between {low} and {high}); this is an extrapolation beyond the runs"
        )


def bound_gains(table: RunTable, predictor: OutcomePredictor, goal: TuningGoal) -> tuple[BoundGain, ...]:
    """Estimate what would be gained by widening the bounds at which the best runs lie.

    Parameters
    ----------
    table
        Of the runs.
    predictor
        Of the first outcome to raise.
    goal
        What tuning is to raise, and what it must keep.

    Returns
    -------
    tuple of BoundGain
        The largest gain first; empty where the best run, and most of the best runs, are inside.

    Raises
    ------
    SettingsError
        No finished run keeps the limits.
    """
    outcome = goal.outcomes[0]
    best = best_row(table, goal)
    values = np.where(within_limits(table, goal), table.outcome(outcome), -np.inf)
    rows = [row for row in np.argsort(-values, kind="stable")[:LOOKED_AT] if np.isfinite(values[row])]
    cube = table.space.to_unit(table.points)
    draws = draws_of(len(predictor.rows), PRINTED_DRAWS)
    here = predictor.draw(cube[[best]], (outcome,), draws)[outcome][0]
    found = []
    for place, parameter in enumerate(table.space.parameters):
        for upper in (False, True):
            end = 1.0 if upper else 0.0
            at = [row for row in rows if abs(cube[row, place] - end) < BOUND_SHARE]
            if len(at) < min(LEAST_AT_BOUND, len(rows)) or best not in at:
                continue
            outside = cube[[best]].copy()
            outside[0, place] = end + (WIDER if upper else -WIDER)
            gains = predictor.draw(outside, (outcome,), draws)[outcome][0] - here
            low, high = np.quantile(gains, [0.025, 0.975])
            found.append(
                BoundGain(
                    parameter=parameter,
                    upper=upper,
                    runs=len(at),
                    widened=_widened(parameter, upper=upper),
                    gain=float(gains.mean()),
                    low=float(low),
                    high=float(high),
                )
            )
    return tuple(sorted(found, key=lambda one: -one.gain))


def _widened(parameter: Parameter, *, upper: bool) -> float:
    """Return a bound moved outwards by a tenth of the range, on the scale of the parameter."""
    near, far = (parameter.upper, parameter.lower) if upper else (parameter.lower, parameter.upper)
    if parameter.scale == "log":
        return float(near * (near / far) ** WIDER)
    return near + WIDER * (near - far)
