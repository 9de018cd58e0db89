"""From an error sum and a reference sum to a score: shared by magnitude and slope."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from correlate.metrics.iso18571.settings import ZeroReference


def score_of_error(
    difference: float, total: float, limit: float, zero_reference: ZeroReference
) -> tuple[float, float]:
    """Return the relative error and its score, which falls from 1 to 0 at the limit.

    Parameters
    ----------
    difference, total
        Sums of absolute differences and of absolute reference values, 0 or more, one unit.
    limit
        Relative error that scores 0.
    zero_reference
        What a reference sum of 0 scores; the published text leaves it open, see ``RatingSettings``.

    Returns
    -------
    error : float
        ``difference / total``; infinite, or not a number when both are 0.
    score : float
        In [0, 1].

    Examples
    --------
    >>> score_of_error(1.0, 10.0, 0.5, "compare")
    (0.1, 0.8)
    """
    if total == 0.0:
        equal = difference == 0.0
        score = 1.0 if equal and zero_reference == "compare" else 0.0
        return (float("nan") if equal else float("inf")), score
    error = difference / total
    return error, max(0.0, (limit - error) / limit)
