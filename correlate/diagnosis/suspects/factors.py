"""Factors between units that are mistaken for each other, by what is measured."""

from __future__ import annotations

import math
from typing import Final

from correlate.errors import UnitError
from correlate.units import STANDARD_GRAVITY, conversion_factor, parse_unit

_THOUSAND: Final = 1000.0
_DEGREES: Final = 180 / math.pi
_POUND_FORCE: Final = 4.4482216152605
_INCH: Final = 25.4
_POUND: Final = 2.2046226218487757
_FACTORS: Final[dict[str, tuple[float, ...]]] = {
    "acceleration": (STANDARD_GRAVITY, _THOUSAND, _THOUSAND * STANDARD_GRAVITY),
    "force": (_POUND_FORCE, _THOUSAND, STANDARD_GRAVITY, _POUND),
    "mass": (_POUND, _THOUSAND),
    "length": (_INCH, _THOUSAND),
    "velocity": (_THOUSAND, _INCH),
    "moment or energy": (_THOUSAND, STANDARD_GRAVITY, _POUND_FORCE),
    "angle": (_DEGREES, _THOUSAND),
    "angular velocity": (_DEGREES, _THOUSAND),
    "angular acceleration": (_DEGREES, _THOUSAND),
}
_ANY: Final = (STANDARD_GRAVITY, _THOUSAND, _DEGREES, _POUND_FORCE, _INCH)
_TEXTS: Final = (
    ("m/s^2", "g", "mm/s^2", "mm/ms^2"),
    ("N", "kN", "lbf", "MN"),
    ("kg", "lb", "t"),
    ("mm", "m", "in", "cm"),
    ("m/s", "mm/s", "mm/ms", "in/s"),
    ("N·m", "kN·m", "N·mm", "kN·mm"),
    ("deg", "rad", "mrad"),
    ("deg/s", "rad/s", "rad/ms"),
    ("deg/s^2", "rad/s^2", "rad/ms^2"),
)
_SAME: Final = 0.01


def factors_for(unit: str) -> tuple[float, ...]:
    """Return the factors, and their reciprocals, that a channel in a unit may be wrong by.

    Parameters
    ----------
    unit
        Of the channel.

    Returns
    -------
    tuple of float
        Exact factors where the units are (yard and pound agreement of 1959; standard gravity, 3rd CGPM 1901).

    Examples
    --------
    >>> factors_for("mm")[:2]
    (25.4, 1000.0)
    """
    known = _FACTORS.get(parse_unit(unit).dimension, _ANY)
    return (*known, *(1 / factor for factor in known))


def nearest_factor(ratio: float, unit: str) -> float | None:
    """Return the factor between units that is nearest to a ratio of sizes.

    Parameters
    ----------
    ratio
        Of sizes.
    unit
        Of the channel.

    Returns
    -------
    float or None
        None for a ratio that is 0, infinite or not a number.

    Examples
    --------
    >>> nearest_factor(30.0, "mm")
    25.4
    """
    if not 0 < ratio < math.inf:
        return None
    return min(factors_for(unit), key=lambda factor: abs(math.log(ratio / factor)))


def unit_meant(written: str, factor: float) -> str | None:
    """Return the unit in which values are really given that are too large by a factor.

    Parameters
    ----------
    written
        Unit that the file states.
    factor
        By which the values are too large in it.

    Returns
    -------
    str or None
        None where no unit of the table fits.

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
