"""Units that follow from a consistent system, against factors of the SI and by dimension."""

from __future__ import annotations

import pytest

from correlate.errors import SettingsError
from correlate.formats.columns.unit_system import COMMON_SYSTEMS, QUANTITIES, unit_in
from correlate.units import conversion_factor, parse_unit


@pytest.mark.parametrize(
    ("system", "quantity", "in_si", "si"),
    [
        ("mm-ms-kg", "force", 1e3, "N"),
        ("mm-ms-kg", "acceleration", 1e3, "m/s^2"),
        ("mm-ms-kg", "velocity", 1.0, "m/s"),
        ("mm-ms-kg", "moment", 1.0, "N·m"),
        ("mm-ms-kg", "stress", 1e9, "Pa"),
        ("mm-ms-kg", "angular velocity", 1e3, "rad/s"),
        ("mm-s-t", "force", 1.0, "N"),
        ("mm-s-t", "stress", 1e6, "Pa"),
        ("mm-s-t", "energy", 1e-3, "J"),
        ("m-s-kg", "moment", 1.0, "N·m"),
        ("kg-m-ms", "force", 1e6, "N"),
    ],
)
def test_units_of_usual_systems(system: str, quantity: str, in_si: float, si: str) -> None:
    """Coherent derived units are products of powers of the base units (SI brochure, 2.3.4)."""
    assert conversion_factor(unit_in(system, quantity), si) == pytest.approx(in_si, rel=1e-12)


@pytest.mark.parametrize("system", COMMON_SYSTEMS)
@pytest.mark.parametrize("quantity", QUANTITIES)
def test_every_quantity_has_a_unit_that_can_be_parsed(system: str, quantity: str) -> None:
    """And one of the same dimension in every system."""
    assert (
        parse_unit(unit_in(system, quantity)).exponents == parse_unit(unit_in("m-s-kg", quantity)).exponents
    )


@pytest.mark.parametrize("system", ["mm-ms", "mm-ms-kN", "mm-mm-kg", "", "mm-ms-kg-rad", "mm ms kg", "x-y-z"])
def test_what_is_no_system_is_refused(system: str) -> None:
    """With an example of one."""
    with pytest.raises(SettingsError, match="write for instance mm-ms-kg"):
        unit_in(system, "force")


def test_an_unknown_quantity_is_refused() -> None:
    """The known ones are listed."""
    with pytest.raises(SettingsError, match="there is no quantity 'weight'; write one of time, length"):
        unit_in("m-s-kg", "weight")
