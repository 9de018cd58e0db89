"""Units: parse a text, convert between two of one dimension, with exact factors.

A table of our own, because general unit libraries read ``g`` as gram and ``Nm`` as
nanometre-something, while in this trade ``g`` is the acceleration of free fall.

Factors: the international yard and pound agreement of 1959 (1 in = 25.4 mm, 1 lb = 0.45359237 kg), the
standard acceleration of free fall, 9.80665 m/s² (3rd CGPM, 1901), and NIST SP 811 (2008), appendix B.8, for
bar, psi, kilopond (kp), litre, revolution per minute, degree Celsius and degree Fahrenheit. SI units and
prefixes: BIPM, SI brochure (2019). Both from memory. Strain units and counts: common practice, no source.

``1/min`` is a frequency; ``rpm``, ``U/min``, ``r/min`` and ``rev/min`` are an angular velocity.
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

Exponents = tuple[int, int, int, int, int, int]
"""Powers of metre, kilogram, second, radian, kelvin and ampere."""

STANDARD_GRAVITY: Final = 9.80665
"""Acceleration of free fall that defines the unit g, in m/s²."""
SYMBOLS: Final = ("m", "kg", "s", "rad", "K", "A")
"""Of the powers, in their order."""

_NONE: Final[Exponents] = (0, 0, 0, 0, 0, 0)
_LENGTH: Final[Exponents] = (1, 0, 0, 0, 0, 0)
_MASS: Final[Exponents] = (0, 1, 0, 0, 0, 0)
_TIME: Final[Exponents] = (0, 0, 1, 0, 0, 0)
_ANGLE: Final[Exponents] = (0, 0, 0, 1, 0, 0)
_TEMPERATURE: Final[Exponents] = (0, 0, 0, 0, 1, 0)
_CURRENT: Final[Exponents] = (0, 0, 0, 0, 0, 1)
_ACCELERATION: Final[Exponents] = (1, 0, -2, 0, 0, 0)
_VELOCITY: Final[Exponents] = (1, 0, -1, 0, 0, 0)
_FORCE: Final[Exponents] = (1, 1, -2, 0, 0, 0)
_PRESSURE: Final[Exponents] = (-1, 1, -2, 0, 0, 0)
_FREQUENCY: Final[Exponents] = (0, 0, -1, 0, 0, 0)
_ENERGY: Final[Exponents] = (2, 1, -2, 0, 0, 0)
_POWER: Final[Exponents] = (2, 1, -3, 0, 0, 0)
_VOLUME: Final[Exponents] = (3, 0, 0, 0, 0, 0)
_ROTATION: Final[Exponents] = (0, 0, -1, 1, 0, 0)
_VOLTAGE: Final[Exponents] = (2, 1, -3, 0, 0, -1)
_RESISTANCE: Final[Exponents] = (2, 1, -3, 0, 0, -2)

_THOUSAND = Fraction(1000)
_MILLION = Fraction(1_000_000)
_INCH = Fraction(254, 10_000)
_POUND = Fraction(45_359_237, 100_000_000)
_GRAVITY = Fraction(980_665, 100_000)

_ATOMS: Final[dict[str, tuple[Fraction | float, Exponents]]] = {
    "1": (Fraction(1), _NONE),
    "-": (Fraction(1), _NONE),
    "%": (Fraction(1, 100), _NONE),
    "count": (Fraction(1), _NONE),
    "counts": (Fraction(1), _NONE),
    "strain": (Fraction(1), _NONE),
    "ε": (Fraction(1), _NONE),
    "µstrain": (1 / _MILLION, _NONE),
    "ustrain": (1 / _MILLION, _NONE),
    "microstrain": (1 / _MILLION, _NONE),
    "µε": (1 / _MILLION, _NONE),
    "m": (Fraction(1), _LENGTH),
    "mm": (1 / _THOUSAND, _LENGTH),
    "µm": (1 / _MILLION, _LENGTH),
    "um": (1 / _MILLION, _LENGTH),
    "cm": (Fraction(1, 100), _LENGTH),
    "km": (_THOUSAND, _LENGTH),
    "in": (_INCH, _LENGTH),
    "inch": (_INCH, _LENGTH),
    "ft": (12 * _INCH, _LENGTH),
    "l": (1 / _THOUSAND, _VOLUME),
    "L": (1 / _THOUSAND, _VOLUME),
    "ml": (1 / _MILLION, _VOLUME),
    "mL": (1 / _MILLION, _VOLUME),
    "kg": (Fraction(1), _MASS),
    "t": (_THOUSAND, _MASS),
    "lb": (_POUND, _MASS),
    "s": (Fraction(1), _TIME),
    "sec": (Fraction(1), _TIME),
    "ms": (1 / _THOUSAND, _TIME),
    "us": (1 / _MILLION, _TIME),
    "µs": (1 / _MILLION, _TIME),
    "min": (Fraction(60), _TIME),
    "h": (Fraction(3600), _TIME),
    "rad": (Fraction(1), _ANGLE),
    "mrad": (1 / _THOUSAND, _ANGLE),
    "deg": (math.pi / 180, _ANGLE),
    "°": (math.pi / 180, _ANGLE),
    "rev": (2 * math.pi, _ANGLE),
    "rpm": (2 * math.pi / 60, _ROTATION),
    "K": (Fraction(1), _TEMPERATURE),
    "°C": (Fraction(1), _TEMPERATURE),
    "degC": (Fraction(1), _TEMPERATURE),
    "°F": (Fraction(5, 9), _TEMPERATURE),
    "degF": (Fraction(5, 9), _TEMPERATURE),
    "A": (Fraction(1), _CURRENT),
    "mA": (1 / _THOUSAND, _CURRENT),
    "µA": (1 / _MILLION, _CURRENT),
    "uA": (1 / _MILLION, _CURRENT),
    "kA": (_THOUSAND, _CURRENT),
    "V": (Fraction(1), _VOLTAGE),
    "mV": (1 / _THOUSAND, _VOLTAGE),
    "µV": (1 / _MILLION, _VOLTAGE),
    "uV": (1 / _MILLION, _VOLTAGE),
    "kV": (_THOUSAND, _VOLTAGE),
    "Ohm": (Fraction(1), _RESISTANCE),
    "Ω": (Fraction(1), _RESISTANCE),
    "kOhm": (_THOUSAND, _RESISTANCE),
    "kΩ": (_THOUSAND, _RESISTANCE),
    "g": (_GRAVITY, _ACCELERATION),
    "G": (_GRAVITY, _ACCELERATION),
    "N": (Fraction(1), _FORCE),
    "daN": (Fraction(10), _FORCE),
    "kN": (_THOUSAND, _FORCE),
    "MN": (_MILLION, _FORCE),
    "lbf": (_POUND * _GRAVITY, _FORCE),
    "kgf": (_GRAVITY, _FORCE),
    "kp": (_GRAVITY, _FORCE),
    "Pa": (Fraction(1), _PRESSURE),
    "hPa": (Fraction(100), _PRESSURE),
    "kPa": (_THOUSAND, _PRESSURE),
    "MPa": (_MILLION, _PRESSURE),
    "GPa": (_THOUSAND * _MILLION, _PRESSURE),
    "bar": (Fraction(100_000), _PRESSURE),
    "mbar": (Fraction(100), _PRESSURE),
    "psi": (_POUND * _GRAVITY / _INCH**2, _PRESSURE),
    "Hz": (Fraction(1), _FREQUENCY),
    "kHz": (_THOUSAND, _FREQUENCY),
    "MHz": (_MILLION, _FREQUENCY),
    "Nm": (Fraction(1), _ENERGY),
    "Nmm": (1 / _THOUSAND, _ENERGY),
    "kNm": (_THOUSAND, _ENERGY),
    "kNmm": (Fraction(1), _ENERGY),
    "J": (Fraction(1), _ENERGY),
    "mJ": (1 / _THOUSAND, _ENERGY),
    "kJ": (_THOUSAND, _ENERGY),
    "Wh": (Fraction(3600), _ENERGY),
    "kWh": (3600 * _THOUSAND, _ENERGY),
    "W": (Fraction(1), _POWER),
    "mW": (1 / _THOUSAND, _POWER),
    "kW": (_THOUSAND, _POWER),
    "MW": (_MILLION, _POWER),
    "mph": (5280 * 12 * _INCH / 3600, _VELOCITY),
}
_ZEROS: Final[dict[str, float]] = {
    "°C": float(Fraction(27_315, 100)),
    "degC": float(Fraction(27_315, 100)),
    "°F": float(Fraction(45_967, 100) * Fraction(5, 9)),
    "degF": float(Fraction(45_967, 100) * Fraction(5, 9)),
}
"""Zero point of a scale, K. Within a product, such as °C/s, these units are differences."""
_WHOLE: Final[dict[str, str]] = {
    "m/s/s": "m/s^2",
    "kph": "km/h",
    "kmh": "km/h",
    "lbf-ft": "lbf·ft",
    "ft-lbf": "ft·lbf",
    "in-lbf": "in·lbf",
    "lbf-in": "lbf·in",
    "N-m": "N·m",
    "U/min": "rpm",
    "r/min": "rpm",
    "deg C": "degC",
    "deg F": "degF",
    "1/0": "1",
    "0/1": "1",
}
_FACTOR = re.compile(r"(?P<number>[1-])|(?P<atom>[A-Za-zµ°%εΩ]+)(?:\^?(?P<power>-?[1-9]))?")
_BETWEEN = re.compile(r"[·*\s⋅]+|(?<=\w)\.(?=[A-Za-zµ°])")
# Superscripts, the minus sign, and letters and marks that look like the micro, ohm and degree signs.
_PLAIN_MARKS = str.maketrans(
    dict(zip("¹²³⁴⁵⁶⁷⁸⁹⁻−μ\u2126º˚", "123456789--µΩ°°", strict=True)) | {"℃": "°C", "℉": "°F"}
)

_DIMENSION_NAMES: Final[dict[Exponents, str]] = {
    _NONE: "a plain number",
    _LENGTH: "length",
    _MASS: "mass",
    _TIME: "time",
    _ANGLE: "angle",
    _TEMPERATURE: "temperature",
    _CURRENT: "electric current",
    _VOLTAGE: "electric voltage",
    _RESISTANCE: "electric resistance",
    _ACCELERATION: "acceleration",
    _FORCE: "force",
    _PRESSURE: "pressure",
    _FREQUENCY: "frequency",
    _ENERGY: "moment or energy",
    _POWER: "power",
    _VELOCITY: "velocity",
    _VOLUME: "volume",
    (3, 0, -1, 0, 0, 0): "volume flow",
    _ROTATION: "angular velocity",
    (0, 0, -2, 1, 0, 0): "angular acceleration",
    (0, 1, -2, 0, 0, 0): "stiffness",
}

_SI_TEXTS: Final[dict[Exponents, str]] = {
    _FORCE: "N",
    (1, 1, -1, 0, 0, 0): "N·s",
    (1, 1, -3, 0, 0, 0): "N/s",
    _ENERGY: "N·m",
    (2, 1, -1, 0, 0, 0): "N·m·s",
    _POWER: "N·m/s",
    _PRESSURE: "Pa",
    (0, 1, -2, 0, 0, 0): "N/m",
    _VOLTAGE: "V",
    _RESISTANCE: "Ohm",
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
        Powers of metre, kilogram, second, radian, kelvin and ampere.
    zero
        SI value of its zero: 273.15 for °C, which is a scale; 0 for all others.
    """

    text: str
    factor: float
    exponents: Exponents
    zero: float = 0.0

    @property
    def dimension(self) -> str:
        """Word for what the unit measures, or its SI powers where there is no word."""
        named = _DIMENSION_NAMES.get(self.exponents)
        if named:
            return named
        symbols = zip(SYMBOLS, self.exponents, strict=True)
        return "·".join(f"{symbol}^{power}" for symbol, power in symbols if power)


@lru_cache(maxsize=512)
def parse_unit(text: str) -> Unit:
    """Parse the text of a unit.

    Parameters
    ----------
    text
        Symbols joined by ``·``, ``*``, ``.`` or a space, powers as ``^2``, ``**2``, ``2`` or ``²``, one
        ``/`` between numerator and denominator. ``g`` is the acceleration of free fall.

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
    plain = _WHOLE.get(written, written).translate(_PLAIN_MARKS).replace("**", "^")
    factor: Fraction | float = Fraction(1)
    exponents = list(_NONE)
    for atom, power in _atoms(plain, written):
        atom_factor, atom_exponents = _ATOMS[atom]
        factor = _times(factor, atom_factor, power)
        exponents = [total + power * one for total, one in zip(exponents, atom_exponents, strict=True)]
    powers = (exponents[0], exponents[1], exponents[2], exponents[3], exponents[4], exponents[5])
    return Unit(written, float(factor), powers, _ZEROS.get(plain, 0.0))


def is_unit(text: str, dimension: str = "") -> bool:
    """Say whether a text is a unit, of one dimension where one is named.

    Examples
    --------
    >>> is_unit("kN"), is_unit("kN", "time"), is_unit("furlong")
    (True, False, False)
    """
    try:
        return parse_unit(text).dimension == dimension or not dimension
    except UnitError:
        return False


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
        A unit cannot be parsed, the two measure different things, or they are scales with different zero
        points, such as °C and K.

    Examples
    --------
    >>> conversion_factor("in", "mm")
    25.4
    """
    factor, added = conversion(source, target)
    if added:
        raise UnitError(
            f"'{source}' and '{target}' have different zero points, so no factor converts between them",
            remedy="give both in one unit",
        )
    return factor


def conversion(source: str, target: str) -> tuple[float, float]:
    """Return factor and offset that convert a value to another unit, also between temperature scales.

    Parameters
    ----------
    source, target
        Two units of one dimension.

    Returns
    -------
    factor, added : float
        ``value_in_target = factor * value_in_source + added``. A difference of two values needs the factor
        alone.

    Raises
    ------
    UnitError
        A unit cannot be parsed, or the two measure different things.

    References
    ----------
    .. [1] NIST SP 811 (2008), appendix B.8, temperature; BIPM, SI brochure (2019), 2.3.1:
       t/°C = T/K − 273.15. Both from memory.

    Examples
    --------
    >>> conversion("°C", "K"), conversion("mm", "m")
    ((1.0, 273.15), (0.001, 0.0))
    """
    start, end = parse_unit(source), parse_unit(target)
    if start.exponents != end.exponents:
        raise UnitError(
            f"'{source}' ({start.dimension}) cannot be converted to '{target}' ({end.dimension})",
            remedy="pair channels that measure the same thing, or correct the unit",
        )
    return start.factor / end.factor, (start.zero - end.zero) / end.factor


def si_text(exponents: Exponents) -> str:
    """Return the text of the coherent SI unit with given powers.

    Parameters
    ----------
    exponents
        Powers of metre, kilogram, second, radian, kelvin and ampere.

    Returns
    -------
    str
        A text that :func:`parse_unit` reads back as these powers and a factor of 1.

    Examples
    --------
    >>> si_text((1, 0, -2, 0, 0, 0)), si_text((1, 1, -1, 0, 0, 0)), si_text((0, 0, -1, 0, 1, 0))
    ('m/s^2', 'N·s', 'K/s')
    """
    if exponents in _SI_TEXTS:
        return _SI_TEXTS[exponents]
    symbols = tuple(zip(SYMBOLS, exponents, strict=True))
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
        pieces = [piece for piece in _BETWEEN.split(part.strip("() ")) if piece]
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
