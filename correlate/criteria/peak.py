"""Peak of a curve and its time."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from correlate.criteria.arrays import checked_curves
from correlate.criteria.result import CriterionResult, at_instant

if TYPE_CHECKING:
    from numpy.typing import ArrayLike


def peak(values: ArrayLike, *, step_s: float) -> CriterionResult:
    """Return the sample of largest absolute value, with its sign.

    Parameters
    ----------
    values
        Shape ``(n,)``, any unit.
    step_s
        Sampling interval, s.

    Returns
    -------
    CriterionResult
        ``value`` in the unit of `values`; both times are that of the sample, the first of equal ones.

    Raises
    ------
    SignalError
        Fewer than two samples, or one that is not finite.

    References
    ----------
    .. [1] No formula.

    Examples
    --------
    >>> peak([0.0, 3.0, -8.0, 1.0], step_s=0.1)
    CriterionResult(value=-8.0, start_s=0.2, end_s=0.2)
    """
    (curve,) = checked_curves(step_s, values=values)
    index = int(np.argmax(np.abs(curve)))
    return at_instant(curve[index], index, step_s)
