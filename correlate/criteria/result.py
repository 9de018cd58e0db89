"""The result type of all criteria."""

from __future__ import annotations

from dataclasses import dataclass

from correlate.display import short_repr


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class CriterionResult:
    """A criterion and when it came about.

    Attributes
    ----------
    value
        In the unit of the criterion.
    start_s, end_s
        The stretch of time behind the value, from the first sample on, in s. Equal for an instant.
    """

    value: float
    start_s: float
    end_s: float


def at_instant(value: float, index: int, step_s: float) -> CriterionResult:
    """Return a result that belongs to one sample.

    Parameters
    ----------
    value
        In the unit of the criterion.
    index
        Of the sample, from 0.
    step_s
        Sampling interval, s.

    Returns
    -------
    CriterionResult

    Examples
    --------
    >>> at_instant(4.2, 3, 0.5)
    CriterionResult(value=4.2, start_s=1.5, end_s=1.5)
    """
    time_s = int(index) * float(step_s)
    return CriterionResult(value=float(value), start_s=time_s, end_s=time_s)
