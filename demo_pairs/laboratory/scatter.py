"""How one repeat differs from the next: climate, material, speed, alignment. Seeds are fixed."""

from dataclasses import dataclass

import numpy as np

TEMPERATURE = 21.4
TEMPERATURE_SPREAD = 0.35
HUMIDITY = 42.0
SPEED_SPREAD = 0.01
SPEED_LIMIT = 0.013
RUBBER_PER_KELVIN, VINYL_PER_KELVIN, FOAM_PER_KELVIN = -0.015, -0.022, -0.01
RUBBER_SPREAD, VINYL_SPREAD, FOAM_SPREAD, METAL_SPREAD = 0.02, 0.025, 0.03, 0.02
ALIGNMENT_SPREAD = 0.03


@dataclass(frozen=True, kw_only=True)
class Variation:
    """One draw. Factors multiply nominal values; 1 throughout is the nominal hardware.

    Attributes
    ----------
    speed, rubber, vinyl, foam, metal, alignment
        Factors on impact speed, on moduli of rubber, vinyl skin, foam and steel parts, and on
        the small lever arms and tilts of the set-up.
    temperature, humidity
        Air in the laboratory [°C], [%].
    """

    speed: float = 1.0
    rubber: float = 1.0
    vinyl: float = 1.0
    foam: float = 1.0
    metal: float = 1.0
    alignment: float = 1.0
    temperature: float = TEMPERATURE
    humidity: float = HUMIDITY


NOMINAL = Variation()


def generator(seed: int, repeat: int, purpose: int) -> np.random.Generator:
    """Give the random generator of one repeat for one purpose; the same numbers on every machine."""
    return np.random.Generator(np.random.PCG64([seed, repeat, purpose]))


def truncated_normal(random: np.random.Generator, spread: float, limit: float) -> float:
    """Draw from a normal distribution of mean 0, again until within ``±limit``."""
    while True:
        value = spread * float(random.standard_normal())
        if abs(value) <= limit:
            return value


def draw(seed: int, repeat: int) -> Variation:
    """Draw the variation of one repeat."""
    random = generator(seed, repeat, 0)
    warmer = truncated_normal(random, TEMPERATURE_SPREAD, 2 * TEMPERATURE_SPREAD)

    def material(spread: float, per_kelvin: float) -> float:
        return (1.0 + per_kelvin * warmer) * (1.0 + truncated_normal(random, spread, 2 * spread))

    return Variation(
        speed=1.0 + truncated_normal(random, SPEED_SPREAD, SPEED_LIMIT),
        rubber=material(RUBBER_SPREAD, RUBBER_PER_KELVIN),
        vinyl=material(VINYL_SPREAD, VINYL_PER_KELVIN),
        foam=material(FOAM_SPREAD, FOAM_PER_KELVIN),
        metal=material(METAL_SPREAD, 0.0),
        alignment=1.0 + truncated_normal(random, ALIGNMENT_SPREAD, 2 * ALIGNMENT_SPREAD),
        temperature=round(TEMPERATURE + warmer, 1),
        humidity=round(HUMIDITY + truncated_normal(random, 4.0, 8.0), 0),
    )
