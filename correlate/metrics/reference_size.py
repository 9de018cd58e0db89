"""The size of the reference that errors are measured against."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from correlate.errors import SignalError

if TYPE_CHECKING:
    from correlate.pair import AlignedPair


def reference_peak(pair: AlignedPair) -> float:
    """Return the largest absolute value of the reference.

    Parameters
    ----------
    pair
        Shape ``(n,)``.

    Returns
    -------
    float
        Above 0.

    Raises
    ------
    SignalError
        The reference is zero throughout.

    Examples
    --------
    >>> from correlate.pair import AlignedPair
    >>> reference_peak(AlignedPair(time=[0, 1, 2], reference=[1, -5, 2], candidate=[0, 0, 0]))
    5.0
    """
    peak = float(np.abs(pair.reference).max())
    if peak == 0.0:
        raise SignalError(
            "the reference is zero throughout the interval, so nothing can be measured against it",
            remedy="check the channel and the interval of evaluation",
        )
    return peak
