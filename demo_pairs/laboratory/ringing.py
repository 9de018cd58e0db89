"""What stiff parts add to the motion of rigid bodies: decaying vibration from the blow, and mains hum."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from demo_pairs.laboratory.scatter import truncated_normal

if TYPE_CHECKING:
    from collections.abc import Iterable

    from numpy.typing import NDArray

FREQUENCY_SPREAD, STRENGTH_SPREAD = 0.01, 0.12
MAINS_FREQUENCY = 50.0


@dataclass(frozen=True, kw_only=True)
class Mode:
    """One natural vibration of the part that carries a sensor, or of the mass on a load cell.

    Attributes
    ----------
    frequency
        Natural frequency [Hz].
    damping
        Damping ratio [-].
    strength
        Amplitude at the blow per impact speed [unit of the sensor per m/s]; negative starts downwards.
    """

    frequency: float
    damping: float
    strength: float


def ring(times: NDArray[np.float64], mode: Mode, speed: float) -> NDArray[np.float64]:
    r"""Vibration of one mode after a blow at time zero.

    The skin, foil or plate that touches first has a small mass of its own, which takes the speed of the
    blow within a fraction of a period. The mode receives it as an impulse:

    .. math:: a(t) = s\,v\,e^{-\zeta\omega t} \sin(\omega\sqrt{1 - \zeta^2}\,t), \quad t > 0

    Parameters
    ----------
    times
        Shape ``(n,)`` [s].
    mode
        Frequency, damping and strength ``s``.
    speed
        Speed ``v`` of the blow [m/s].

    Returns
    -------
    ndarray
        Shape ``(n,)`` [unit of the sensor]; zero before the blow. Textbook: impulse response of one mode.
    """
    after = np.maximum(times, 0.0)
    omega = 2.0 * np.pi * mode.frequency
    turning = omega * np.sqrt(1.0 - mode.damping**2)
    decay = np.exp(-mode.damping * omega * after)
    return np.asarray(mode.strength * speed * decay * np.sin(turning * after), dtype=np.float64)


def ringing(
    times: NDArray[np.float64], modes: Iterable[Mode], speed: float, random: np.random.Generator
) -> NDArray[np.float64]:
    """Add up the modes of one sensor in one repeat; each differs a little from repeat to repeat."""
    total = np.zeros(times.size)
    for mode in modes:
        drawn = Mode(
            frequency=mode.frequency
            * (1.0 + truncated_normal(random, FREQUENCY_SPREAD, 2 * FREQUENCY_SPREAD)),
            damping=mode.damping,
            strength=mode.strength * (1.0 + truncated_normal(random, STRENGTH_SPREAD, 2 * STRENGTH_SPREAD)),
        )
        total += ring(times, drawn, speed)
    return total


def hum(times: NDArray[np.float64], amplitude: float, random: np.random.Generator) -> NDArray[np.float64]:
    """Give what a long cable picks up from the mains: up to ``amplitude`` [unit] at any phase."""
    size, phase = random.uniform(0.3, 1.0), random.uniform(0.0, 2.0 * np.pi)
    wave = np.sin(2.0 * np.pi * MAINS_FREQUENCY * times + phase)
    return np.asarray(amplitude * size * wave, dtype=np.float64)
