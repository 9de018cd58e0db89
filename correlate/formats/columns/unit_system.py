"""Consistent unit systems, such as mm-ms-kg: the unit of a quantity follows from the base units."""

from __future__ import annotations

import itertools
import math
from typing import Final

from correlate.errors import SettingsError, UnitError
from correlate.units import parse_unit

_POWERS: Final[dict[str, tuple[int, int, int, int]]] = {
    "time": (0, 0, 1, 0),
    "length": (1, 0, 0, 0),
    "displacement": (1, 0, 0, 0),
    "velocity": (1, 0, -1, 0),
    "acceleration": (1, 0, -2, 0),
    "mass": (0, 1, 0, 0),
    "force": (1, 1, -2, 0),
    "moment": (2, 1, -2, 0),
    "energy": (2, 1, -2, 0),
    "pressure": (-1, 1, -2, 0),
    "stress": (-1, 1, -2, 0),
    "angle": (0, 0, 0, 1),
    "angular velocity": (0, 0, -1, 1),
    "angular acceleration": (0, 0, -2, 1),
    "ratio": (0, 0, 0, 0),
}
"""Powers of length, mass, time and radian (SI brochure, 9th edition, section 2.3.4)."""

_USUAL: Final[dict[str, tuple[str, ...]]] = {
    "velocity": ("m/s",),
    "acceleration": ("m/s^2",),
    "force": ("N", "kN", "MN"),
    "moment": ("N·m", "kN·m", "N·mm"),
    "energy": ("J", "kJ", "N·mm"),
    "pressure": ("Pa", "MPa", "kN/mm^2"),
    "stress": ("Pa", "MPa", "kN/mm^2"),
}
_SAME: Final = 1e-9

QUANTITIES: Final[tuple[str, ...]] = tuple(_POWERS)
"""What a column of a unit system can hold."""

COMMON_SYSTEMS: Final[tuple[str, ...]] = ("mm-ms-kg", "m-s-kg", "mm-s-t")
"""Systems to choose from; any other length, time and mass may be written as well."""


def unit_in(system: str, quantity: str) -> str:
    """Return the unit that a quantity has in a consistent system.

    Parameters
    ----------
    system
        Units of length, time and mass with a hyphen between, in any order.
    quantity
        One of `QUANTITIES`.

    Returns
    -------
    str
        A usual unit where one has the same size, else the base units written out.

    Raises
    ------
    SettingsError
        It is no system of a length, a time and a mass, or there is no such quantity.

    Examples
    --------
    >>> unit_in("mm-ms-kg", "force"), unit_in("mm-s-t", "force"), unit_in("m-s-kg", "stress")
    ('kN', 'N', 'Pa')
    >>> unit_in("mm-ms-kg", "acceleration"), unit_in("mm-ms-kg", "angular velocity")
    ('mm/ms^2', 'rad/ms')
    """
    base = _base_units(system)
    if quantity not in _POWERS:
        raise SettingsError(
            f"there is no quantity '{quantity}'", remedy=f"write one of {', '.join(QUANTITIES)}"
        )
    length, mass, time, angle = _POWERS[quantity]
    written = _written((base["mass"], mass), (base["length"], length), ("rad", angle), (base["time"], time))
    exact = parse_unit(written)
    for text in _USUAL.get(quantity, ()):
        usual = parse_unit(text)
        if usual.exponents == exact.exponents and math.isclose(usual.factor, exact.factor, rel_tol=_SAME):
            return text
    return written


def _base_units(system: str) -> dict[str, str]:
    """Return the units of length, time and mass by what they measure."""
    parts = [part.strip() for part in system.split("-")]
    try:
        found = {parse_unit(part).dimension: part for part in parts}
    except UnitError as error:
        raise _no_system(system) from error
    if len(parts) != 3 or set(found) != {"length", "time", "mass"}:
        raise _no_system(system)
    return found


def _no_system(system: str) -> SettingsError:
    return SettingsError(
        f"'{system}' is not a unit system of length, time and mass",
        remedy=f"write for instance {', '.join(COMMON_SYSTEMS)}",
    )


def _written(*powers: tuple[str, int]) -> str:
    """Return the product of powers as a text that `parse_unit` reads."""
    above = [_power(unit, power) for unit, power in powers if power > 0]
    below = [_power(unit, -power) for unit, power in powers if power < 0]
    text = "·".join(above) or "1"
    return "/".join(itertools.chain([text], ["·".join(below)] if below else []))


def _power(unit: str, power: int) -> str:
    return unit if power == 1 else f"{unit}^{power}"
