"""Factors between units that are mistaken for each other (exact, see ``correlate.units``)."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

from correlate.errors import UnitError
from correlate.units import STANDARD_GRAVITY, conversion_factor, parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterable

_THOUSAND: Final = 1000.0
_DEGREES: Final = 180 / math.pi
_POUND_FORCE: Final = 4.4482216152605
_INCH: Final = 25.4
_POUND: Final = 2.2046226218487757
_BAR: Final = 1e5
_PSI: Final = 6894.757293168361
"""lbf/in² in Pa, from the definitions in ``correlate.units``."""
_BY_DIMENSION: Final[dict[str, tuple[float, ...]]] = {
    "acceleration": (STANDARD_GRAVITY, _THOUSAND, _THOUSAND * STANDARD_GRAVITY),
    "force": (_POUND_FORCE, _THOUSAND, STANDARD_GRAVITY, _POUND),
    "mass": (_POUND, _THOUSAND),
    "length": (_INCH, _THOUSAND),
    "velocity": (_THOUSAND, _INCH),
    "moment or energy": (_THOUSAND, STANDARD_GRAVITY, _POUND_FORCE),
    "pressure": (_THOUSAND, _THOUSAND**2, _BAR, _PSI),
    "electric voltage": (_THOUSAND,),
    "angle": (_DEGREES, _THOUSAND),
    "angular velocity": (_DEGREES, _THOUSAND),
    "angular acceleration": (_DEGREES, _THOUSAND),
}
_TEXTS: Final = (
    ("m/s^2", "g", "mm/s^2", "mm/ms^2"),
    ("N", "kN", "lbf", "MN"),
    ("kg", "lb", "t"),
    ("mm", "m", "in", "cm"),
    ("m/s", "mm/s", "mm/ms", "in/s"),
    ("N·m", "kN·m", "N·mm", "kN·mm"),
    ("Pa", "kPa", "MPa", "bar", "psi"),
    ("V", "mV"),
    ("deg", "rad", "mrad"),
    ("deg/s", "rad/s", "rad/ms"),
    ("deg/s^2", "rad/s^2", "rad/ms^2"),
)
_WORDS: Final[dict[float, str]] = {
    STANDARD_GRAVITY: "g and m/s²",
    _THOUSAND: "a unit and its thousandth",
    _DEGREES: "degree and radian",
    _POUND_FORCE: "lbf and N",
    _INCH: "inch and mm",
}
_SAME: Final = 0.01

FACTOR_SLACK: Final = 0.07
"""How far a ratio of two repeats may lie from a factor, because repeats scatter. Chosen here."""


def factors_for(unit: str) -> tuple[float, ...]:
    """Return the factors, and their reciprocals, that a channel in a unit may be wrong by.

    Examples
    --------
    >>> factors_for("mm")[:2]
    (25.4, 1000.0)
    """
    return _with_reciprocals(_BY_DIMENSION.get(parse_unit(unit).dimension, _WORDS))


def nearest_factor(ratio: float, factors: Iterable[float]) -> float | None:
    """Return the factor that is nearest to a ratio of sizes, by their logarithms.

    Examples
    --------
    >>> nearest_factor(30.0, factors_for("mm"))
    25.4
    """
    if not 0 < ratio < math.inf:
        return None
    return min(factors, key=lambda factor: abs(math.log(ratio / factor)))


def confused_units(ratio: float, slack: float = FACTOR_SLACK) -> tuple[str, float] | None:
    """Return the units in words, and the factor, that a ratio of two repeats points to.

    Parameters
    ----------
    ratio
        Of the sizes of two repeats.
    slack
        How far the ratio may lie from the factor, as a share of it.

    Returns
    -------
    tuple or None
        None where no factor is near.

    Examples
    --------
    >>> confused_units(9.7), confused_units(1 / 1000), confused_units(1.3)
    (('g and m/s²', 9.80665), ('a unit and its thousandth', 0.001), None)
    """
    factor = nearest_factor(ratio, _with_reciprocals(_WORDS))
    if factor is None or abs(ratio / factor - 1) > slack:
        return None
    return _words_of(factor), factor


def factor_into(value: float, low: float, high: float) -> tuple[str, float] | None:
    """Return the units in words, and the factor to divide by, that bring a value into a range.

    Examples
    --------
    >>> factor_into(0.113, 0.9, 1.6)
    ('g and m/s²', 0.10197162129779283)
    >>> factor_into(2.0, 0.9, 1.6) is None
    True
    """
    fitting = [factor for factor in _with_reciprocals(_WORDS) if low <= value / factor <= high]
    factor = nearest_factor(value / math.sqrt(low * high), fitting) if fitting else None
    return None if factor is None else (_words_of(factor), factor)


def unit_meant(written: str, factor: float) -> str | None:
    """Return the unit in which values are really given that are too large by a factor.

    Examples
    --------
    >>> unit_meant("g", 9.80665), unit_meant("kN", 1000.0), unit_meant("N", 2.2046)
    ('m/s^2', 'N', None)
    """
    for text in (text for row in _TEXTS for text in row):
        try:
            one = conversion_factor(text, written)
        except UnitError:
            continue
        if abs(one * factor - 1) < _SAME:
            return text
    return None


def _with_reciprocals(factors: Iterable[float]) -> tuple[float, ...]:
    known = tuple(factors)
    return (*known, *(1 / factor for factor in known))


def _words_of(factor: float) -> str:
    return next(words for known, words in _WORDS.items() if factor in {known, 1 / known})
