"""The majority of the other repeats; if they disagree, the examined one gets no finding."""

from __future__ import annotations

from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from collections.abc import Sequence


def middle(values: Sequence[float], favoured: float) -> float:
    """Return the median; of two middle values, whatever lies between them and nearest to the favoured one.

    Parameters
    ----------
    values
        One or more.
    favoured
        What would clear the repeat that is judged.

    Returns
    -------
    float

    Examples
    --------
    >>> middle([1.0, 9.81, 1.02], favoured=1.0), middle([1.0, 9.81], favoured=1.0)
    (1.02, 1.0)
    """
    ordered = sorted(values)
    low, high = ordered[(len(ordered) - 1) // 2], ordered[len(ordered) // 2]
    return min(max(favoured, low), high)
