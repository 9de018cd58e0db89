"""How far a further repeat would be from the others, in the errors that a rating knows."""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.display import short_repr
from correlate.metrics.iso18571 import rate_many
from correlate.metrics.iso18571.rating import shifted
from correlate.reference.repeatability import LEAST_REPEATS, pair_with_the_mean, pairs_with_the_others
from correlate.statistics import LEVEL, student_quantile

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from correlate.conditioning import Recipe
    from correlate.metrics.iso18571 import Rating, RatingSettings
    from correlate.signal import Signal


@dataclass(frozen=True, slots=True, kw_only=True)
class TypicalScatter:
    """What is known of an error without a sign before any repeat is seen.

    Attributes
    ----------
    floor
        Errors below this say nothing of the scatter; added before a logarithm is taken.
    spread
        Standard deviation of the logarithm that channels typically have.
    degrees
        Degrees of freedom that this is worth beside the ``n - 1`` of the repeats.
    """

    floor: float
    spread: float
    degrees: float


UNSIGNED: Final[Mapping[str, TypicalScatter]] = MappingProxyType(
    {
        "corridor": TypicalScatter(floor=0.01, spread=0.8, degrees=16),
        "slope": TypicalScatter(floor=0.02, spread=0.25, degrees=8),
        "overall": TypicalScatter(floor=0.01, spread=0.4, degrees=4),
    }
)
"""Found by simulation on two kinds of curve and tested on a third: see ``docs/statistics-hardware.md``."""


@short_repr
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
        cases: lost corridor score, shift in s, relative difference of sizes and of slopes, lost rating.
    model
        The same errors of the model against that mean, empty without one. Positive shifts and sizes mean
        late and too large.
    """

    repeats: int
    rating: float
    bounds: Mapping[str, float]
    model: Mapping[str, float]

    def holds(self, component: str) -> bool | None:
        """Say whether a further repeat might be as far off as the model; None when that is unknown."""
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

    A shift or a relative size :math:`d_i` of a repeat against the mean of the others scatters as a Student
    prediction interval needs it:

    .. math:: s^2 = \frac{n-1}{n^2} \sum d_i^2, \qquad
              |d| \le t_{0.975,\,n-1}\, s \sqrt{1 + 1/n}

    Errors without a sign are bounded by :func:`error_bound`.

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
    step of the grid, on which shifts are found. The size is the sum of the absolute values after the shift:
    the error of the magnitude score has no sign, and a mean over repeats of such errors does not vanish for
    a perfect model.

    References
    ----------
    .. [1] Prediction interval of one further value: any textbook.
    """
    if len(repeats) < LEAST_REPEATS:
        return None
    pairs = pairs_with_the_others(repeats, recipe)
    if model is not None:
        pairs.append(pair_with_the_mean(repeats, model, recipe))
    # Rated together, because most of the time of a single rating is overhead.
    ratings = rate_many(pairs, settings, threads=1)
    found, own = ratings[: len(repeats)], {} if model is None else _errors(ratings[-1])
    columns = [_errors(rating) for rating in found]
    bounds: dict[str, float] = {}
    for name in columns[0]:
        values = [one[name] for one in columns]
        if all(math.isfinite(value) for value in values):
            bounds[name] = _bound(name, values, recipe.step_s)
    return HardwareScatter(
        repeats=len(repeats),
        rating=float(np.median([rating.overall for rating in found])),
        bounds=bounds,
        model={name: value for name, value in own.items() if math.isfinite(value)},
    )


def error_bound(errors: Sequence[float], typical: TypicalScatter) -> float:
    r"""Return what an error without a sign exceeds in one of twenty further cases.

    .. math:: \ln e \le \overline{\ln e_i} + t_{0.95,\,\nu}\, s \sqrt{1 + 1/n}, \qquad
              s^2 = \frac{\nu_0 s_0^2 + (n - 1)\, s_{\ln e}^2}{\nu}, \quad \nu = \nu_0 + n - 1

    Parameters
    ----------
    errors
        Of each repeat against the mean of the others, 0 or more; at least two.
    typical
        Floor, :math:`s_0` and :math:`\nu_0`.

    Returns
    -------
    float

    Notes
    -----
    A few logarithms say little of their own scatter; the typical one steadies the bound.

    References
    ----------
    .. [1] Scatter drawn to a typical one: Smyth, Statistical Applications in Genetics and Molecular Biology 3
       (2004), from memory. Logarithm, floors, :math:`s_0` and :math:`\nu_0`: chosen here.
    """
    count = len(errors)
    logs = np.log(np.asarray(errors) + typical.floor)
    degrees = typical.degrees + count - 1
    square = (typical.degrees * typical.spread**2 + (count - 1) * float(logs.var(ddof=1))) / degrees
    width = student_quantile(LEVEL, degrees) * math.sqrt(square * (1 + 1 / count))
    return math.exp(float(logs.mean()) + width) - typical.floor


def _bound(component: str, errors: Sequence[float], step_s: float) -> float:
    if component in UNSIGNED:
        return error_bound(errors, UNSIGNED[component])
    return max(step_s if component == "phase" else 0.0, _signed_bound(errors))


def _signed_bound(errors: Sequence[float]) -> float:
    count = len(errors)
    spread = math.sqrt((count - 1) / count**2 * sum(error**2 for error in errors))
    return student_quantile(0.5 + LEVEL / 2, count - 1) * spread * math.sqrt(1 + 1 / count)


def _errors(rating: Rating) -> dict[str, float]:
    return {
        "corridor": 1.0 - rating.corridor,
        "phase": rating.shift_s,
        "magnitude": _relative_size(rating),
        "slope": float(rating.ingredients.slope.error),
        "overall": 1.0 - rating.overall,
    }


def _relative_size(rating: Rating) -> float:
    """Return how much larger the candidate is once moved by its shift; no number where the reference is 0."""
    reference, candidate = shifted(rating.pair, rating.shift_samples)
    size = float(np.abs(reference).sum())
    return float(np.abs(candidate).sum()) / size - 1.0 if size > 0.0 else math.nan
