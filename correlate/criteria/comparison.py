"""One criterion over the repeats of a test and in the model."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.display import short_repr
from correlate.errors import SignalError

if TYPE_CHECKING:
    from collections.abc import Sequence


LEAST_REPEATS: Final = 3
"""Fewest repeats whose scatter is used as reference."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class CriterionComparison:
    """One criterion over the repeats of a test and in the model.

    Attributes
    ----------
    name, unit
        Of the criterion.
    repeats
        Value in each repeat.
    candidate
        Value in the model.
    reference
        Mean of the repeats: the value in the test.
    scatter
        Standard deviation of the repeats (n − 1 in the denominator); None with a single one.
    error
        Candidate less reference, in the unit.
    relative_error
        Error over the absolute value of the reference; None where that is 0.
    error_in_scatter
        Error in standard deviations of the repeats; None with fewer than three repeats or without scatter.
    note
        Why a number is missing; empty when none is.
    """

    name: str
    unit: str
    repeats: tuple[float, ...]
    candidate: float
    reference: float
    scatter: float | None
    error: float
    relative_error: float | None
    error_in_scatter: float | None
    note: str


def compare_criterion(
    *, name: str, unit: str, repeats: Sequence[float], candidate: float
) -> CriterionComparison:
    r"""Compare the value of a criterion in the model with the repeats of the test.

    .. math:: e = c - \bar r, \qquad e_\mathrm{rel} = e / |\bar r|, \qquad
              e_s = e / s, \quad s^2 = \frac{\sum (r_k - \bar r)^2}{n - 1}

    Parameters
    ----------
    name, unit
        Of the criterion.
    repeats
        Value :math:`r_k` in each repeat, at least one.
    candidate
        Value :math:`c` in the model.

    Returns
    -------
    CriterionComparison

    Raises
    ------
    SignalError
        No repeat, or a value that is not finite.

    References
    ----------
    .. [1] Sample mean and standard deviation; that fewer than three repeats give no reference is common
       practice, no source.

    Examples
    --------
    >>> found = compare_criterion(name="HIC15", unit="1", repeats=[690.0, 700.0, 710.0], candidate=735.0)
    >>> found.error, found.relative_error, found.error_in_scatter
    (35.0, 0.05, 3.5)
    """
    values = tuple(float(value) for value in repeats)
    if not values or not all(map(math.isfinite, (*values, candidate))):
        raise SignalError(
            f"the values of {name} are {list(values)} in the test and {candidate} in the model",
            remedy="give at least one repeat and finite numbers",
        )
    reference = float(np.mean(values))
    scatter = float(np.std(values, ddof=1)) if len(values) > 1 else None
    error = float(candidate) - reference
    enough = scatter is not None and len(values) >= LEAST_REPEATS
    return CriterionComparison(
        name=name,
        unit=unit,
        repeats=values,
        candidate=float(candidate),
        reference=reference,
        scatter=scatter,
        error=error,
        relative_error=error / abs(reference) if reference else None,
        error_in_scatter=error / scatter if enough and scatter else None,
        note=_note(len(values), scatter),
    )


def _note(count: int, scatter: float | None) -> str:
    if count < LEAST_REPEATS:
        return f"{count} of {LEAST_REPEATS} repeats needed for scatter"
    return "" if scatter else "the repeats do not scatter"
