"""How different two colours look, also to eyes that lack a kind of cone: a second opinion on the palette."""

from __future__ import annotations

from types import MappingProxyType
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

VISIONS: Final[Mapping[str, Floats]] = MappingProxyType(
    {
        "usual": np.eye(3),
        "protanopia": np.array(
            [
                [0.152286, 1.052583, -0.204868],
                [0.114503, 0.786281, 0.099216],
                [-0.003882, -0.048116, 1.051998],
            ]
        ),
        "deuteranopia": np.array(
            [
                [0.367322, 0.860646, -0.227968],
                [0.280085, 0.672501, 0.047413],
                [-0.011820, 0.042940, 0.968881],
            ]
        ),
    }
)
"""On linear RGB, severity 1.0: Machado, Oliveira, Fernandes, IEEE TVCG 15 (2009), table 1; from memory."""

_TO_XYZ: Final = np.array(
    [
        [0.4124564, 0.3575761, 0.1804375],
        [0.2126729, 0.7151522, 0.0721750],
        [0.0193339, 0.1191920, 0.9503041],
    ]
)
_WHITE: Final = np.array([0.95047, 1.0, 1.08883])


def seen(colour: str, vision: str) -> Floats:
    """Return a colour ``#rrggbb`` as CIELAB (D65), as an eye sees it."""
    coded = np.array([int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)])
    linear = np.where(coded <= 0.04045, coded / 12.92, ((coded + 0.055) / 1.055) ** 2.4)
    share = _TO_XYZ @ np.clip(VISIONS[vision] @ linear, 0, 1) / _WHITE
    root = np.where(share > 216 / 24389, np.cbrt(share), (24389 / 27 * share + 16) / 116)
    return np.array([116 * root[1] - 16, 500 * (root[0] - root[1]), 200 * (root[1] - root[2])])


def difference(first: Floats, second: Floats) -> float:
    """Return the colour difference CIEDE2000 of two colours in CIELAB.

    Sharma, Wu, Dalal, Color Research and Application 30 (2005), equations 2 to 22.
    """
    chroma = (np.hypot(*first[1:]) + np.hypot(*second[1:])) / 2
    stretch = 1 + 0.5 * (1 - np.sqrt(chroma**7 / (chroma**7 + 25**7)))
    a, b = np.array([first[1], second[1]]) * stretch, np.array([first[2], second[2]])
    chromas, hues = np.hypot(a, b), np.degrees(np.arctan2(b, a)) % 360
    turn = (hues[1] - hues[0] + 180) % 360 - 180 if chromas.all() else 0.0
    by_light, by_chroma = second[0] - first[0], chromas[1] - chromas[0]
    by_hue = 2 * np.sqrt(chromas.prod()) * np.sin(np.radians(turn / 2))
    light, mean = (first[0] + second[0]) / 2, chromas.mean()
    hue = (hues[0] + turn / 2) % 360 if chromas.all() else hues.sum()
    waves = ((-0.17, 1, -30), (0.24, 2, 0), (0.32, 3, 6), (-0.20, 4, -63))
    bumps = 1 + sum(height * np.cos(np.radians(times * hue + shift)) for height, times, shift in waves)
    scaled = np.array(
        [
            by_light / (1 + 0.015 * (light - 50) ** 2 / np.sqrt(20 + (light - 50) ** 2)),
            by_chroma / (1 + 0.045 * mean),
            by_hue / (1 + 0.015 * mean * bumps),
        ]
    )
    twist = np.sin(np.radians(60 * np.exp(-(((hue - 275) / 25) ** 2))))
    blue = -2 * np.sqrt(mean**7 / (mean**7 + 25**7)) * twist
    return float(np.sqrt((scaled**2).sum() + blue * scaled[1] * scaled[2]))
