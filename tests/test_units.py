"""Units against published factors and a general units library."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path
from typing import Any

import pint
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.errors import UnitError
from correlate.units import STANDARD_GRAVITY, conversion, conversion_factor, parse_unit, si_text

PUBLISHED: dict[str, Any] = tomllib.loads(
    (Path(__file__).parent / "published" / "units" / "factors.toml").read_text(encoding="utf-8")
)
REGISTRY: pint.UnitRegistry[Any] = pint.UnitRegistry()

SECOND_OPINION = {
    "m": "meter",
    "mm": "millimeter",
    "cm": "centimeter",
    "km": "kilometer",
    "in": "inch",
    "ft": "foot",
    "kg": "kilogram",
    "t": "metric_ton",
    "lb": "pound",
    "s": "second",
    "ms": "millisecond",
    "us": "microsecond",
    "min": "minute",
    "h": "hour",
    "rad": "radian",
    "mrad": "milliradian",
    "deg": "degree",
    "g": "standard_gravity",
    "N": "newton",
    "kN": "kilonewton",
    "MN": "meganewton",
    "lbf": "pound_force",
    "Pa": "pascal",
    "kPa": "kilopascal",
    "MPa": "megapascal",
    "bar": "bar",
    "Hz": "1/second",
    "kHz": "1/millisecond",
    "J": "joule",
    "kJ": "kilojoule",
    "mph": "mile/hour",
    "km/h": "kilometer/hour",
    "Nm": "newton*meter",
    "Nmm": "newton*millimeter",
    "kNm": "kilonewton*meter",
    "kN·mm": "kilonewton*millimeter",
    "ft·lbf": "foot*pound_force",
    "in·lbf": "inch*pound_force",
    "m/s^2": "meter/second**2",
    "mm/ms²": "millimeter/millisecond**2",
    "mm/ms": "millimeter/millisecond",
    "m/(s*s)": "meter/second**2",
    "deg/s": "degree/second",
    "rad/ms": "radian/millisecond",
    "deg/s^2": "degree/second**2",
    "N/mm": "newton/millimeter",
    "kN·s/m": "kilonewton*second/meter",
    "Nm/rad": "newton*meter/radian",
    "N·m·s": "newton*meter*second",
    "kg·m²": "kilogram*meter**2",
    "lbf·s/in": "pound_force*second/inch",
    "%": "0.01",
    "1/s": "1/second",
    "µm": "micrometer",
    "um/m": "micrometer/meter",
    "daN": "10*newton",
    "kp": "kilogram_force",
    "kgf": "kilogram_force",
    "hPa": "hectopascal",
    "GPa": "gigapascal",
    "mbar": "millibar",
    "psi": "pound_force/inch**2",
    "N/mm^2": "newton/millimeter**2",
    "l/min": "liter/minute",
    "L/s": "liter/second",
    "ml": "milliliter",
    "m3/s": "meter**3/second",
    "rpm": "revolution/minute",
    "rev/s": "revolution/second",
    "1/min": "1/minute",
    "MHz": "1/microsecond",
    "V": "volt",
    "mV": "millivolt",
    "µV": "microvolt",
    "kV": "kilovolt",
    "V/m": "volt/meter",
    "mA": "milliampere",
    "uA": "microampere",
    "kA": "kiloampere",
    "Ohm": "ohm",
    "kΩ": "kiloohm",
    "W": "watt",
    "mW": "milliwatt",
    "kW": "kilowatt",
    "MW": "megawatt",
    "mJ": "millijoule",
    "Wh": "watt*hour",
    "kWh": "kilowatt*hour",
    "K": "kelvin",
    "°C/s": "delta_degC/second",
    "degF/min": "delta_degF/minute",
}


@pytest.mark.parametrize(("ours", "theirs"), SECOND_OPINION.items())
def test_agrees_with_a_general_library(ours: str, theirs: str) -> None:
    """The SI value of one unit is that of the general library, spelled its way."""
    assert parse_unit(ours).factor == pytest.approx(REGISTRY(theirs).to_base_units().magnitude, rel=1e-12)


@given(data=st.data())
def test_conversions_agree_with_a_general_library(data: st.DataObject) -> None:
    """Between any two units of one dimension, there and back."""
    source = data.draw(st.sampled_from(sorted(SECOND_OPINION)))
    alike = [unit for unit in SECOND_OPINION if parse_unit(unit).exponents == parse_unit(source).exponents]
    target = data.draw(st.sampled_from(sorted(alike)))
    start, end = REGISTRY(SECOND_OPINION[source]), REGISTRY(SECOND_OPINION[target])
    expected = (start / end).to_base_units().magnitude
    assert conversion_factor(source, target) == pytest.approx(expected, rel=1e-12)
    assert conversion_factor(source, target) * conversion_factor(target, source) == pytest.approx(
        1.0, rel=1e-15
    )


@pytest.mark.parametrize("row", PUBLISHED["factor"], ids=lambda row: row["unit"])
def test_published_factors(row: dict[str, Any]) -> None:
    """The factors of NIST SP 811, exact where it defines them, to its seven digits elsewhere."""
    tolerance = 1e-12 if row["exact"] else 5e-7
    assert conversion_factor(row["unit"], row["si"]) == pytest.approx(row["value"], rel=tolerance)


@pytest.mark.parametrize(
    ("source", "target", "factor"),
    [
        ("g", "m/s^2", 9.80665),
        ("g", "mm/ms^2", 9.80665e-3),
        ("mm", "m", 1e-3),
        ("ms", "s", 1e-3),
        ("deg", "rad", math.pi / 180),
        ("lbf", "N", 0.45359237 * 9.80665),
        ("kN", "N", 1e3),
        ("in", "mm", 25.4),
        ("ft·lbf", "N·m", 0.3048 * 0.45359237 * 9.80665),
        ("mph", "m/s", 1609.344 / 3600),
        ("km/h", "m/s", 1 / 3.6),
    ],
)
def test_factors_of_the_trade(source: str, target: str, factor: float) -> None:
    """From the definitions: yard and pound agreement of 1959, standard acceleration of free fall of 1901."""
    assert conversion_factor(source, target) == pytest.approx(factor, rel=1e-15)


def test_g_is_the_acceleration_of_free_fall() -> None:
    """Neither gram nor the constant of gravitation."""
    assert (parse_unit("g").factor, parse_unit("g").dimension) == (STANDARD_GRAVITY, "acceleration")


@pytest.mark.parametrize(
    "spellings",
    [
        [
            "m/s^2",
            "m/s**2",
            "m.s-2",
            "m/s2",
            "m/s²",
            "m/s/s",
            "m/(s*s)",
            "m·s^-2",
            "m·s⁻²",
            "m*s-2",
            "m s^-2",
            " m/s^2 ",
        ],
        ["N·m", "Nm", "N*m", "N m", "N-m", "N⋅m", "N.m", "m·N"],
        ["g", "G"],
        ["°C", "degC", "deg C", "℃", "ºC"],
        ["°F", "degF", "deg F", "℉"],
        ["µm/m", "um/m", "μm/m", "µstrain", "ustrain", "microstrain", "µε"],
        ["N/mm^2", "N/mm2", "N/mm²", "N/mm**2", "MPa"],
        ["m^3/s", "m3/s", "m³/s", "m**3/s"],
        ["rpm", "U/min", "r/min", "rev/min"],
        ["Ohm", "Ω", "\u2126"],
        ["kp", "kgf"],
        ["rad/s^2", "rad/s2", "rad/s**2"],
        ["°/s^2", "deg/s2"],
        ["ft·lbf", "ft-lbf", "lbf-ft", "lbf·ft"],
        ["us", "µs", "μs"],
        ["deg/s", "°/s"],
        ["km/h", "kph", "kmh"],
        ["1", "-", "1/0", "count", "V/V", "m/m"],
        ["in", "inch"],
        ["s", "sec"],
    ],
)
def test_spellings_of_one_unit(spellings: list[str]) -> None:
    """What people and instruments write for one unit is read as one unit; its text stays as written."""
    units = [parse_unit(text) for text in spellings]
    assert len({(unit.factor, unit.exponents) for unit in units}) == 1
    assert [unit.text for unit in units] == [text.strip() for text in spellings]


@pytest.mark.parametrize(
    ("text", "dimension"),
    [
        ("mm", "length"),
        ("kN", "force"),
        ("N·m", "moment or energy"),
        ("rad/s", "angular velocity"),
        ("deg/s^2", "angular acceleration"),
        ("kN/mm", "stiffness"),
        ("%", "a plain number"),
        ("N·s", "m^1·kg^1·s^-1"),
        ("°C", "temperature"),
        ("mV", "electric voltage"),
        ("mV/V", "a plain number"),
        ("µm/m", "a plain number"),
        ("psi", "pressure"),
        ("l/min", "volume flow"),
        ("rpm", "angular velocity"),
        ("1/min", "frequency"),
        ("kW", "power"),
        ("mA", "electric current"),
    ],
)
def test_dimension_in_words(text: str, dimension: str) -> None:
    """Where there is a word it is used, elsewhere the powers are written out."""
    assert parse_unit(text).dimension == dimension


@pytest.mark.parametrize(
    "text",
    [
        "stone",
        "gg",
        "m/",
        "/s",
        "m/s/kg",
        "m//s",
        "·",
        "()",
        "12",
        "100",
        "-2",
        "m^0",
        "m^99",
        "m^999999999",
        "s^2.5",
        "G^",
    ],
)
def test_unknown_texts_are_refused(text: str) -> None:
    """The message repeats the text and shows some units; plain numbers are no units."""
    with pytest.raises(UnitError, match=r"the unit '.*' is not known; write one such as g, m/s\^2"):
        parse_unit(text)


@pytest.mark.parametrize("text", ["", "  "])
def test_empty_text_is_refused(text: str) -> None:
    """No unit is written as 1."""
    with pytest.raises(UnitError, match=r"the unit is empty; write it in brackets"):
        parse_unit(text)


@pytest.mark.parametrize(
    ("source", "target"), [("mm", "N"), ("rad/s", "1/s"), ("N·m", "N·m/rad"), ("kg", "g"), ("lb", "lbf")]
)
def test_different_dimensions_are_refused(source: str, target: str) -> None:
    """Also mass and force, and turning rate and frequency."""
    with pytest.raises(UnitError, match=rf"'{source}' \(.*\) cannot be converted to '{target}' \(.*\)"):
        conversion_factor(source, target)


@pytest.mark.parametrize(
    ("source", "value", "target", "expected"),
    [
        ("°C", 0.0, "K", 273.15),
        ("°C", 100.0, "°F", 212.0),
        ("degF", 32.0, "degC", 0.0),
        ("°F", -459.67, "K", 0.0),
        ("K", 300.0, "°C", 26.85),
        ("mm", 2.0, "m", 0.002),
    ],
)
def test_scales_with_a_zero_of_their_own(source: str, value: float, target: str, expected: float) -> None:
    """Freezing and boiling water and absolute zero: SI brochure (2019), 2.3.1; NIST SP 811, B.8."""
    factor, added = conversion(source, target)
    assert factor * value + added == pytest.approx(expected, abs=1e-10)


def test_no_factor_converts_between_scales() -> None:
    """Degrees Celsius and degC are one scale; in a product both are differences."""
    with pytest.raises(
        UnitError, match="'°C' and 'K' have different zero points, so no factor converts between"
    ):
        conversion_factor("°C", "K")
    assert conversion_factor("°C", "degC") == 1.0
    assert conversion_factor("°C/s", "K/s") == 1.0


@given(st.tuples(*[st.integers(-4, 4)] * 6))
def test_si_text_is_read_back(exponents: tuple[int, int, int, int, int, int]) -> None:
    """Whatever the powers, the text means exactly them, without a factor."""
    unit = parse_unit(si_text(exponents))
    assert (unit.exponents, unit.factor) == (exponents, 1.0)
