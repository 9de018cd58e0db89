"""The prediction of one outcome of one run, and what earlier predictions say of its interval."""

from __future__ import annotations

from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.tuning.definition import LOSS_RATIO

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class Predicted:
    """What a run should be worth.

    Attributes
    ----------
    mean
        Expected.
    low, high
        Ends of the interval that should hold 95 % of such runs; of a rating never below 0 or above 1.
    deviation
        Standard deviation before earlier predictions were considered; None where it was not kept.
    correction
        What earlier predictions added to the mean.
    """

    mean: float
    low: float
    high: float
    deviation: float | None = None
    correction: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """What earlier predictions say of the next ones.

    Attributes
    ----------
    widening
        What the width of an interval is multiplied with.
    shift
        What is added to the mean, in deviations.
    runs
        Earlier predictions that it comes from.
    """

    widening: float
    shift: float
    runs: int


PRIOR_RUNS: Final = 2.0
"""Predictions that the first widening counts as."""
PRIOR_WIDENING: Final = 2.2
"""Widening without any earlier prediction: points are chosen where they promise much, and so where errors
are in their favour."""
PRIOR_SHIFTS: Final = 6.0
"""Predictions without error that the shift is held back by."""
FORGETTING: Final = 0.9
"""Weight of the predictions of a round beside those of the next one: the emulator has learnt since."""
ROUND_RUNS: Final = 3.0
"""Predictions that a round counts as at most: its points lie close together, and so do their errors."""
LEAST_WIDENING: Final = 1.0
"""Intervals are never narrower than the emulator's own."""
HALF_WIDTH: Final = 1.959964
"""Half width of a normal interval that holds 95 %, in standard deviations."""
NO_CALIBRATION: Final[Mapping[str, Calibration]] = MappingProxyType({})


def calibration_of(predictions: Sequence[tuple[int, Predicted, float]]) -> Calibration:
    r"""Say how much wider intervals must be, and how far means must move, by what came of earlier ones.

    .. math::

        b = \frac{\sum_i w_i z_i}{\sum_i w_i + \kappa}, \qquad
        q^2 = \frac{\nu q_0^2 + \sum_i w_i (z_i - b)^2}{\nu + \sum_i w_i}

    with the errors :math:`z_i` in deviations, before any correction, and weights :math:`w_i` that fall from
    round to round; all of a round together weigh no more than three predictions.

    Parameters
    ----------
    predictions
        Of one outcome: number of the round, what was predicted, and what came.

    Returns
    -------
    Calibration

    References
    ----------
    .. [1] The scale is the mean of an inverse chi-squared distribution updated by normal errors: Gelman and
       others, Bayesian Data Analysis (from memory). Weights and prior are chosen here; how often the
       intervals hold is measured, see ``docs/tuning-method.md``.
    """
    usable = [
        (number, (came - said.mean + said.correction) / said.deviation)
        for number, said, came in predictions
        if said.deviation
    ]
    if not usable:
        return Calibration(widening=PRIOR_WIDENING, shift=0.0, runs=0)
    rounds, errors = (np.array(column) for column in zip(*usable, strict=True))
    sizes = np.array([np.count_nonzero(rounds == number) for number in rounds])
    weights = FORGETTING ** (rounds.max() - rounds) * np.minimum(1.0, ROUND_RUNS / sizes)
    shift = float(weights @ errors / (weights.sum() + PRIOR_SHIFTS))
    squares = PRIOR_RUNS * PRIOR_WIDENING**2 + float(weights @ (errors - shift) ** 2)
    widening = float(np.sqrt(squares / (PRIOR_RUNS + weights.sum())))
    return Calibration(widening=max(widening, LEAST_WIDENING), shift=shift, runs=len(usable))


def predicted_of(values: Floats, outcome: str, calibration: Calibration | None = None) -> Predicted:
    """Sum up the draws of one outcome of one point.

    Parameters
    ----------
    values
        Shape ``(s,)``.
    outcome
        Its name: ratings stay between 0 and 1.
    calibration
        What earlier predictions say; the first widening without any.

    Returns
    -------
    Predicted
    """
    return calibrated(float(np.nanmean(values)), float(np.nanstd(values)), outcome, calibration)


def calibrated(
    mean: float, deviation: float, outcome: str, calibration: Calibration | None = None
) -> Predicted:
    """Return a prediction with the interval that earlier ones say it needs.

    Parameters
    ----------
    mean, deviation
        Before earlier predictions are considered.
    outcome, calibration
        As for :func:`predicted_of`.

    Returns
    -------
    Predicted
    """
    chosen = calibration or calibration_of(())
    middle = mean + chosen.shift * deviation
    ends = middle + HALF_WIDTH * chosen.widening * deviation * np.array([-1.0, 1.0])
    if is_rating(outcome):
        ends, middle = np.clip(ends, 0.0, 1.0), float(np.clip(middle, 0.0, 1.0))
    return Predicted(
        mean=middle, low=float(ends[0]), high=float(ends[1]), deviation=deviation, correction=middle - mean
    )


def is_rating(outcome: str) -> bool:
    """Say whether an outcome is a rating, which is never below 0 or above 1."""
    return outcome != LOSS_RATIO and not outcome.startswith(("feature/", "window/", "criterion/", "spread/"))
