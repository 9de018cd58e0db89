"""The prediction of one outcome of one run, and the calibration of its interval by earlier ones."""

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
    """The predicted value of an outcome of a run.

    Attributes
    ----------
    mean
        Expected.
    low, high
        Ends of the interval that should contain 95 % of such runs; for a rating never below 0 or above 1.
    deviation
        Standard deviation before calibration; None where it was not saved.
    correction
        What the calibration added to the mean.
    """

    mean: float
    low: float
    high: float
    deviation: float | None = None
    correction: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class Calibration:
    """Correction of predictions that follows from the errors of earlier ones.

    Attributes
    ----------
    widening
        Factor on the width of an interval.
    shift
        What is added to the mean, in standard deviations.
    runs
        Number of earlier predictions that it is based on.
    """

    widening: float
    shift: float
    runs: int


PRIOR_RUNS: Final = 2.0
"""Number of predictions that the prior widening counts as."""
PRIOR_WIDENING: Final = 2.2
"""Widening without any earlier prediction: points are chosen for high predictions, and so tend to be those
whose errors are in their favour."""
PRIOR_SHIFTS: Final = 6.0
"""Number of predictions without error that the prior shift of 0 counts as."""
FORGETTING: Final = 0.9
"""Weight of the predictions of a round relative to the next one, whose emulator is based on more runs."""
ROUND_RUNS: Final = 3.0
"""Predictions that a round counts as at most: its points lie close together, and so do their errors."""
LEAST_WIDENING: Final = 1.0
"""Intervals are never narrower than the emulator's own."""
HALF_WIDTH: Final = 1.959964
"""Half width of a normal interval that holds 95 %, in standard deviations."""
NO_CALIBRATION: Final[Mapping[str, Calibration]] = MappingProxyType({})


def calibration_of(predictions: Sequence[tuple[int, Predicted, float]]) -> Calibration:
    r"""Estimate the widening of intervals and the shift of means from the results of earlier predictions.

    .. math::

        b = \frac{\sum_i w_i z_i}{\sum_i w_i + \kappa}, \qquad
        q^2 = \frac{\nu q_0^2 + \sum_i w_i (z_i - b)^2}{\nu + \sum_i w_i}

    with the errors :math:`z_i` in standard deviations, before any correction, and weights :math:`w_i`
    that are smaller for earlier rounds; all of a round together weigh no more than three predictions.

    Parameters
    ----------
    predictions
        Of one outcome: number of the round, prediction, and result.

    Returns
    -------
    Calibration

    References
    ----------
    .. [1] The scale is the mean of an inverse chi-squared distribution updated by normal errors: Gelman and
       others, Bayesian Data Analysis (from memory). Weights and prior are chosen here; the
       coverage of the intervals is measured, see ``docs/tuning-method.md``.
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
    """Summarise the draws of one outcome of one point.

    Parameters
    ----------
    values
        Shape ``(s,)``.
    outcome
        Its name: ratings stay between 0 and 1.
    calibration
        From earlier predictions; the prior widening without any.

    Returns
    -------
    Predicted
    """
    return calibrated(float(np.nanmean(values)), float(np.nanstd(values)), outcome, calibration)


def calibrated(
    mean: float, deviation: float, outcome: str, calibration: Calibration | None = None
) -> Predicted:
    """Return a prediction with its calibrated interval.

    Parameters
    ----------
    mean, deviation
        Before calibration.
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
