"""Factors between units that are mistaken for each other (exact, see ``correlate.units``)."""

from __future__ import annotations

import math
from typing import Final

FACTOR_SLACK: Final = 0.07
"""How far a ratio may lie from a factor, because repeats scatter."""

UNIT_FACTORS: Final[dict[str, float]] = {
    "g and m/s²": 9.80665,
    "a unit and its thousandth": 1000.0,
    "degree and radian": 180 / math.pi,
    "lbf and N": 4.4482216152605,
    "inch and mm": 25.4,
}
"""By the units in words."""


def nearest_factor(ratio: float) -> tuple[str, float] | None:
    """Return the factor between two units that a ratio of sizes points to.

    Parameters
    ----------
    ratio
        Size of one channel over that of its counterpart, above 0.

    Returns
    -------
    (str, float) or None
        The units in words and the factor or its reciprocal; None when no factor is within 7 %.

    Examples
    --------
    >>> nearest_factor(9.7), nearest_factor(1 / 1000), nearest_factor(1.3)
    (('g and m/s²', 9.80665), ('a unit and its thousandth', 0.001), None)
    """
    for words, factor in UNIT_FACTORS.items():
        for known in (factor, 1 / factor):
            if abs(ratio / known - 1) <= FACTOR_SLACK:
                return words, known
    return None


def factor_into(value: float, low: float, high: float) -> tuple[str, float] | None:
    """Return the factor that brings a value into a range, nearest to the middle of it.

    Parameters
    ----------
    value
        Above 0, outside the range.
    low, high
        Range, above 0.

    Returns
    -------
    (str, float) or None
        The units in words and the factor to divide by; None when no factor does.

    Examples
    --------
    >>> factor_into(0.113, 0.9, 1.6)
    ('g and m/s²', 0.10197162129779283)
    >>> factor_into(2.0, 0.9, 1.6) is None
    True
    """
    centre = math.log(low * high) / 2
    fitting = [
        (abs(math.log(value / known) - centre), words, known)
        for words, factor in UNIT_FACTORS.items()
        for known in (factor, 1 / factor)
        if low <= value / known <= high
    ]
    if not fitting:
        return None
    _, words, known = min(fitting)
    return words, known
