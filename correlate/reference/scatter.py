"""How far a further repeat would be from the others, in the errors that a rating knows."""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.reference.repeatability import (
    LEAST_REPEATS,
    rated_against_the_mean,
    rated_against_the_others,
)
from correlate.statistics import LEVEL, student_quantile

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from correlate.conditioning import Recipe
    from correlate.metrics.iso18571 import Rating, RatingSettings
    from correlate.signal import Signal

FLOOR: Final[Mapping[str, float]] = MappingProxyType({"corridor": 0.005, "magnitude": 0.002, "slope": 0.005})
"""Errors below this say nothing of the scatter; added before a logarithm is taken."""
STRETCH: Final[Mapping[str, float]] = MappingProxyType({"corridor": 0.9, "magnitude": 1.35, "slope": 1.1})
"""Factor on the width of the prediction, found by simulation: see ``docs/statistics-hardware.md``."""


@dataclass(frozen=True, slots=True, kw_only=True)
class HardwareScatter:
    """The scatter of the repeats of one channel, as a prediction for one repeat more.

    Attributes
    ----------
    repeats
        Number of repeats.
    rating
        Median rating of each repeat against the mean of the others: the ceiling.
    bounds
        By component, the error against the mean of all repeats that a further repeat exceeds in 5 % of all
        cases: lost corridor score, size of the shift in s, relative difference of sizes and of slopes.
    model
        The same errors of the model against that mean; empty without one.
    """

    repeats: int
    rating: float
    bounds: Mapping[str, float]
    model: Mapping[str, float]

    def holds(self, component: str) -> bool | None:
        """Say whether a further repeat might be as far off as the model; None when that is unknown.

        Parameters
        ----------
        component
            ``corridor``, ``phase``, ``magnitude`` or ``slope``.

        Returns
        -------
        bool or None
        """
        bound, error = self.bounds.get(component), self.model.get(component)
        return None if bound is None or error is None else abs(error) <= bound * (1 + 1e-9)


def hardware_scatter(
    repeats: Sequence[Signal],
    recipe: Recipe,
    settings: RatingSettings | None = None,
    *,
    model: Signal | None = None,
) -> HardwareScatter | None:
    r"""Predict how far a further repeat would be from the mean of the repeats.

    A shift :math:`d_i` of a repeat against the mean of the others scatters as a Student prediction interval
    needs it:

    .. math:: s^2 = \frac{n-1}{n^2} \sum d_i^2, \qquad
              |d| \le t_{0.975,\,n-1}\, s \sqrt{1 + 1/n}

    Errors without a sign are taken by their logarithm, above which a further one lies in 5 % of all cases:

    .. math:: \ln e \le \overline{\ln e_i} + k\, t_{0.95,\,n-1}\, s_{\ln e} \sqrt{1 + 1/n}

    Parameters
    ----------
    repeats
        Conditioned by the recipe, not yet cut to its interval.
    recipe
        Its interval is used.
    settings
        As for the model.
    model
        Conditioned likewise.

    Returns
    -------
    HardwareScatter or None
        None with fewer than three repeats.

    Raises
    ------
    SignalError
        Two repeats, or the model and a repeat, cannot be compared.

    Notes
    -----
    Repeats are not moved in time first, because the model is not either. A shift bound is never below one
    step of the grid, on which shifts are found.

    References
    ----------
    .. [1] Prediction interval of one further value: any textbook. Logarithm, floor and factor `k`: chosen
       here, calibrated by ``python -m tests.benchmarks hardware-scatter``.
    """
    if len(repeats) < LEAST_REPEATS:
        return None
    found = rated_against_the_others(repeats, recipe, settings)
    own = {} if model is None else _errors(rated_against_the_mean(repeats, model, recipe, settings))
    columns = [_errors(rating) for rating in found]
    bounds = {"phase": _shift_bound([one["phase"] for one in columns], recipe.step_s)}
    for name in FLOOR:
        values = [one[name] for one in columns if math.isfinite(one[name])]
        if len(values) == len(columns):
            bounds[name] = error_bound(values, FLOOR[name], STRETCH[name])
    return HardwareScatter(
        repeats=len(repeats),
        rating=float(np.median([rating.overall for rating in found])),
        bounds=bounds,
        model={name: value for name, value in own.items() if math.isfinite(value)},
    )


def error_bound(errors: Sequence[float], floor: float, stretch: float) -> float:
    """Return what an error without a sign exceeds in one of twenty further cases.

    Parameters
    ----------
    errors
        Of each repeat against the mean of the others, 0 or more.
    floor
        Added before the logarithm.
    stretch
        Factor on the width.

    Returns
    -------
    float
    """
    count = len(errors)
    logs = np.log(np.asarray(errors) + floor)
    width = stretch * student_quantile(LEVEL, count - 1) * float(logs.std(ddof=1))
    return math.exp(float(logs.mean()) + width * math.sqrt(1 + 1 / count)) - floor


def _shift_bound(shifts_s: Sequence[float], step_s: float) -> float:
    count = len(shifts_s)
    spread = math.sqrt((count - 1) / count**2 * sum(shift**2 for shift in shifts_s))
    quantile = student_quantile(0.5 + LEVEL / 2, count - 1)
    return max(step_s, quantile * spread * math.sqrt(1 + 1 / count))


def _errors(rating: Rating) -> dict[str, float]:
    return {
        "corridor": 1.0 - rating.corridor,
        "phase": rating.shift_s,
        "magnitude": float(rating.ingredients.magnitude.error),
        "slope": float(rating.ingredients.slope.error),
    }
