"""Draw the picture of ``docs/features-and-hints.md``: ``python -m docs.pictures.diagnosis_features``.

A mass meets a spring, a dashpot and sometimes a stop or a soft layer; one thing is changed in each panel. The
words below a panel are those of the first hint, computed from the two curves.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate import AlignedPair
from correlate.diagnosis.hints import hints
from correlate.plots import LIGHT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

PICTURE: Final = Path(__file__).parent / "hints.svg"
STEP: Final = 1e-4
TIME: Final[Floats] = np.arange(1001, dtype=np.float64) * STEP
BEGIN_S: Final = 0.01
FINER: Final = 4
"""Steps of the integration in one of the output."""


@dataclass(frozen=True, kw_only=True)
class Struck:
    """A mass that meets a part; invented values.

    Attributes
    ----------
    mass, speed
        kg, m/s.
    stiffness, damping
        N/m, N*s/m.
    kept
        Share of the elastic force on unloading.
    stop
        Travel in m beyond which the spring is four times stiffer.
    layer
        Thickness in m of a soft layer that carries a fifth of the force until it is full.
    """

    mass: float = 20.0
    speed: float = 5.0
    stiffness: float = 60e3
    damping: float = 60.0
    kept: float = 1.0
    stop: float = 1.0
    layer: float = 0.0

    def force(self, travel: float, speed: float) -> float:
        """Return the force in N on the mass; a contact never pulls."""
        if travel <= 0.0:
            return 0.0
        through = max(0.0, travel - self.layer) + 0.2 * min(travel, self.layer)
        elastic = self.stiffness * (through + 3.0 * max(0.0, travel - self.stop))
        blend = 0.5 * (1.0 + self.kept) + 0.5 * (1.0 - self.kept) * math.tanh(speed / 0.1)
        return max(0.0, elastic * blend + self.damping * speed * min(1.0, travel / 0.002))


@cache
def load_of(struck: Struck) -> Floats:
    """Return the force over time in kN, shape ``(n,)``; integrated by small explicit steps."""
    travel, speed = 0.0, struck.speed
    forces = np.zeros(TIME.size)
    small = STEP / FINER
    for index in range(round(BEGIN_S / STEP), TIME.size):
        forces[index] = struck.force(travel, speed) / 1e3
        for _ in range(FINER):
            speed -= struck.force(travel, speed) / struck.mass * small
            travel += speed * small
    return forces


TEST: Final = Struck(damping=250.0)
PANELS: Final[dict[str, tuple[Struck, Struck]]] = {
    "spring 40 % softer": (TEST, replace(TEST, stiffness=36e3)),
    "a third of the damping": (TEST, replace(TEST, damping=80.0)),
    "unloading keeps 85 % instead of 55 %": (Struck(kept=0.55), Struck(kept=0.85)),
    "soft layer of 15 mm instead of 8 mm": (Struck(layer=0.008), Struck(layer=0.015)),
    "stop at 75 mm missing": (Struck(stop=0.075), Struck()),
    "20 % more mass, same part": (TEST, replace(TEST, mass=24.0)),
}
"""What was changed, the test, and the model."""


def first_hint(test: Floats, model: Floats) -> str:
    """Return group and side of the first hint."""
    hint = hints(AlignedPair(time=TIME, reference=test, candidate=model))[0]
    return f"{hint.group}: {hint.side}"


def picture() -> str:
    """Return the picture as SVG: the test solid, the model dashed."""
    width, height, columns = 300, 210, 3
    rows = -(-len(PANELS) // columns)
    size = f"0 0 {columns * width} {rows * height}"
    font = 'font-family="Archivo, Segoe UI, Arial, sans-serif" font-size="13"'
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{size}" {font} role="img">',
        "<title>A mass that meets a part: test solid, model dashed, and the first hint</title>",
        f'<rect width="100%" height="100%" fill="{LIGHT.panel}"/>',
    ]
    for index, (changed, (test, model)) in enumerate(PANELS.items()):
        left, top = index % columns * width, index // columns * height
        curves = load_of(test), load_of(model)
        scale = 120.0 / max(float(curve.max()) for curve in curves)
        parts.append(f'<text x="{left + 12}" y="{top + 20}" fill="{LIGHT.ink}">{changed}</text>')
        said = first_hint(*curves)
        parts.append(f'<text x="{left + 12}" y="{top + 188}" fill="{LIGHT.muted}">{said}</text>')
        parts.append(_line(curves[0] * scale, left, top, f'stroke="{LIGHT.test}" stroke-width="2"'))
        dashed = f'stroke="{LIGHT.model}" stroke-width="1.6" stroke-dasharray="6 3"'
        parts.append(_line(curves[1] * scale, left, top, dashed))
    return "\n".join([*parts, "</svg>", ""])


def _line(heights: Floats, left: int, top: int, style: str) -> str:
    kept = slice(None, None, 5)
    x = left + 12 + TIME[kept] / TIME[-1] * 276
    y = top + 165 - heights[kept]
    points = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))
    return f'<polyline fill="none" {style} points="{points}"/>'


if __name__ == "__main__":
    PICTURE.write_text(picture(), encoding="utf-8")
