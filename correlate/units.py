"""Units: parse a text, convert between two of one dimension, with exact factors.

A table of our own, because general unit libraries read ``g`` as gram and ``Nm`` as
nanometre-something, while in this trade ``g`` is the acceleration of free fall.

Factors: the international yard and pound agreement of 1959 (1 in = 25.4 mm, 1 lb = 0.45359237 kg) and
the standard acceleration of free fall, 9.80665 m/s² (3rd CGPM, 1901).
"""

from __future__ import annotations

import math
import re
from dataclasses import dataclass
from fractions import Fraction
from functools import lru_cache
from typing import TYPE_CHECKING, Final

from correlate.errors import UnitError

if TYPE_CHECKING:
    from collections.abc import Iterator

Exponents = tuple[int, int, int, int]
"""Powers of metre, kilogram, second and radian."""

STANDARD_GRAVITY: Final = 9.80665
"""Acceleration of free fall that defines the unit g, in m/s²."""

_NONE: Final[Exponents] = (0, 0, 0, 0)
_LENGTH: Final[Exponents] = (1, 0, 0, 0)
_MASS: Final[Exponents] = (0, 1, 0, 0)
_TIME: Final[Exponents] = (0, 0, 1, 0)
_ANGLE: Final[Exponents] = (0, 0, 0, 1)
_ACCELERATION: Final[Exponents] = (1, 0, -2, 0)
_VELOCITY: Final[Exponents] = (1, 0, -1, 0)
_FORCE: Final[Exponents] = (1, 1, -2, 0)
_PRESSURE: Final[Exponents] = (-1, 1, -2, 0)
_FREQUENCY: Final[Exponents] = (0, 0, -1, 0)
_ENERGY: Final[Exponents] = (2, 1, -2, 0)

_INCH = Fraction(254, 10_000)
_POUND = Fraction(45_359_237, 100_000_000)
_GRAVITY = Fraction(980_665, 100_000)

_ATOMS: Final[dict[str, tuple[Fraction | float, Exponents]]] = {
    "1": (Fraction(1), _NONE),
    "-": (Fraction(1), _NONE),
    "%": (Fraction(1, 100), _NONE),
    "m": (Fraction(1), _LENGTH),
    "mm": (Fraction(1, 1000), _LENGTH),
    "cm": (Fraction(1, 100), _LENGTH),
    "km": (Fraction(1000), _LENGTH),
    "in": (_INCH, _LENGTH),
    "inch": (_INCH, _LENGTH),
    "ft": (12 * _INCH, _LENGTH),
    "kg": (Fraction(1), _MASS),
    "t": (Fraction(1000), _MASS),
    "lb": (_POUND, _MASS),
    "s": (Fraction(1), _TIME),
    "sec": (Fraction(1), _TIME),
    "ms": (Fraction(1, 1000), _TIME),
    "us": (Fraction(1, 1_000_000), _TIME),
    "µs": (Fraction(1, 1_000_000), _TIME),
    "min": (Fraction(60), _TIME),
    "h": (Fraction(3600), _TIME),
    "rad": (Fraction(1), _ANGLE),
    "mrad": (Fraction(1, 1000), _ANGLE),
    "deg": (math.pi / 180, _ANGLE),
    "°": (math.pi / 180, _ANGLE),
    "g": (_GRAVITY, _ACCELERATION),
    "N": (Fraction(1), _FORCE),
    "kN": (Fraction(1000), _FORCE),
    "MN": (Fraction(1_000_000), _FORCE),
    "lbf": (_POUND * _GRAVITY, _FORCE),
    "Pa": (Fraction(1), _PRESSURE),
    "kPa": (Fraction(1000), _PRESSURE),
    "MPa": (Fraction(1_000_000), _PRESSURE),
    "bar": (Fraction(100_000), _PRESSURE),
    "Hz": (Fraction(1), _FREQUENCY),
    "kHz": (Fraction(1000), _FREQUENCY),
    "Nm": (Fraction(1), _ENERGY),
    "Nmm": (Fraction(1, 1000), _ENERGY),
    "kNm": (Fraction(1000), _ENERGY),
    "kNmm": (Fraction(1), _ENERGY),
    "J": (Fraction(1), _ENERGY),
    "kJ": (Fraction(1000), _ENERGY),
    "mph": (5280 * 12 * _INCH / 3600, _VELOCITY),
}
_WHOLE: Final[dict[str, str]] = {
    "m/s/s": "m/s^2",
    "kph": "km/h",
    "kmh": "km/h",
    "lbf-ft": "lbf·ft",
    "ft-lbf": "ft·lbf",
    "in-lbf": "in·lbf",
    "lbf-in": "lbf·in",
    "N-m": "N·m",
}
_FACTOR = re.compile(r"(?P<number>[1-])|(?P<atom>[A-Za-zµ°%]+)(?:\^?(?P<power>-?[1-9]))?")
# Superscripts, the minus sign and the Greek letter that looks like the micro sign.
_PLAIN_MARKS = str.maketrans("¹²³⁴⁵⁶⁷⁸⁹⁻−μ", "123456789--µ")

_DIMENSION_NAMES: Final[dict[Exponents, str]] = {
    _NONE: "a plain number",
    _LENGTH: "length",
    _MASS: "mass",
    _TIME: "time",
    _ANGLE: "angle",
    _ACCELERATION: "acceleration",
    _FORCE: "force",
    _PRESSURE: "pressure",
    _FREQUENCY: "frequency",
    _ENERGY: "moment or energy",
    _VELOCITY: "velocity",
    (0, 0, -1, 1): "angular velocity",
    (0, 0, -2, 1): "angular acceleration",
    (0, 1, -2, 0): "stiffness",
}

_SI_TEXTS: Final[dict[Exponents, str]] = {
    _FORCE: "N",
    (1, 1, -1, 0): "N·s",
    (1, 1, -3, 0): "N/s",
    _ENERGY: "N·m",
    (2, 1, -1, 0): "N·m·s",
    (2, 1, -3, 0): "N·m/s",
    _PRESSURE: "Pa",
    (0, 1, -2, 0): "N/m",
}


@dataclass(frozen=True, slots=True)
class Unit:
    """A parsed unit.

    Attributes
    ----------
    text
        As it was written.
    factor
        SI value of one of it.
    exponents
        Powers of metre, kilogram, second and radian.
    """

    text: str
    factor: float
    exponents: Exponents

    @property
    def dimension(self) -> str:
        """Word for what the unit measures, or its SI powers where there is no word."""
        named = _DIMENSION_NAMES.get(self.exponents)
        if named:
            return named
        symbols = zip(("m", "kg", "s", "rad"), self.exponents, strict=True)
        return "·".join(f"{symbol}^{power}" for symbol, power in symbols if power)


@lru_cache(maxsize=512)
def parse_unit(text: str) -> Unit:
    """Parse the text of a unit.

    Parameters
    ----------
    text
        Symbols joined by ``·``, ``*`` or a space, powers as ``^2``, ``2`` or ``²``, one ``/``
        between numerator and denominator. ``g`` is the acceleration of free fall.

    Returns
    -------
    Unit

    Raises
    ------
    UnitError
        The text is empty or holds a symbol that is not in the table.

    Examples
    --------
    >>> parse_unit("g").factor
    9.80665
    >>> parse_unit("mm/ms²").dimension
    'acceleration'
    """
    written = text.strip()
    if not written:
        raise UnitError("the unit is empty", remedy="write it in brackets, for instance [mm]; [1] for none")
    plain = _WHOLE.get(written, written).translate(_PLAIN_MARKS)
    factor: Fraction | float = Fraction(1)
    exponents = list(_NONE)
    for atom, power in _atoms(plain, written):
        atom_factor, atom_exponents = _ATOMS[atom]
        factor = _times(factor, atom_factor, power)
        exponents = [total + power * one for total, one in zip(exponents, atom_exponents, strict=True)]
    return Unit(written, float(factor), (exponents[0], exponents[1], exponents[2], exponents[3]))


def conversion_factor(source: str, target: str) -> float:
    """Return the number that turns a value in one unit into another.

    Parameters
    ----------
    source, target
        Two units of one dimension.

    Returns
    -------
    float
        ``value_in_target = factor * value_in_source``.

    Raises
    ------
    UnitError
        A unit cannot be parsed, or the two measure different things.

    Examples
    --------
    >>> conversion_factor("in", "mm")
    25.4
    """
    start, end = parse_unit(source), parse_unit(target)
    if start.exponents != end.exponents:
        raise UnitError(
            f"'{source}' ({start.dimension}) cannot be converted to '{target}' ({end.dimension})",
            remedy="pair channels that measure the same thing, or correct the unit",
        )
    return start.factor / end.factor


def si_text(exponents: Exponents) -> str:
    """Return the text of the coherent SI unit with given powers.

    Parameters
    ----------
    exponents
        Powers of metre, kilogram, second and radian.

    Returns
    -------
    str
        A text that :func:`parse_unit` reads back as these powers and a factor of 1.

    Examples
    --------
    >>> si_text((1, 0, -2, 0)), si_text((1, 1, -1, 0)), si_text((0, 1, -3, 0))
    ('m/s^2', 'N·s', 'kg/s^3')
    """
    if exponents in _SI_TEXTS:
        return _SI_TEXTS[exponents]
    symbols = tuple(zip(("m", "kg", "s", "rad"), exponents, strict=True))
    above = "·".join(_power_text(symbol, power) for symbol, power in symbols if power > 0)
    below = "·".join(_power_text(symbol, -power) for symbol, power in symbols if power < 0)
    return f"{above or '1'}/{below}" if below else above or "1"


def _power_text(symbol: str, power: int) -> str:
    return symbol if power == 1 else f"{symbol}^{power}"


def _times(factor: Fraction | float, atom: Fraction | float, power: int) -> Fraction | float:
    if isinstance(factor, Fraction) and isinstance(atom, Fraction):
        return factor * atom**power
    return float(factor) * float(atom) ** power


def _atoms(plain: str, written: str) -> Iterator[tuple[str, int]]:
    """Yield the symbols of a unit with their powers, negative behind the slash."""
    numerator, slash, denominator = plain.partition("/")
    if "/" in denominator:
        raise _unknown(written)
    for sign, part in ((1, numerator), (-1, denominator)) if slash else ((1, numerator),):
        pieces = [piece for piece in re.split(r"[·*\s⋅]+", part.strip("() ")) if piece]
        if not pieces:
            raise _unknown(written)
        for piece in pieces:
            yield _one_atom(piece, sign, written)


def _one_atom(piece: str, sign: int, written: str) -> tuple[str, int]:
    match = _FACTOR.fullmatch(piece)
    if not match:
        raise _unknown(written)
    atom = match["number"] or match["atom"]
    if atom not in _ATOMS:
        raise _unknown(written)
    return atom, sign * int(match["power"] or 1)


def _unknown(written: str) -> UnitError:
    return UnitError(
        f"the unit '{written}' is not known",
        remedy="write one such as g, m/s^2, mm, ms, deg, rad/s, N, kN, N·m or lbf",
    )
