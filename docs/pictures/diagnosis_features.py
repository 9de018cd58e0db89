"""Draw the picture of ``docs/features-and-hints.md``: ``python -m docs.pictures.diagnosis_features``.

A mass meets a spring and a dashpot, sometimes after a gap or up to a stop; one thing is changed in each
panel. The words below a panel are those of the first hint, computed from force and travel.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate import AlignedPair
from correlate.diagnosis.hints import EvidenceChannel, hints
from correlate.plots import LIGHT

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.diagnosis.hints import Role

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
    gap
        Travel in m before the part is met.
    """

    mass: float = 20.0
    speed: float = 5.0
    stiffness: float = 60e3
    damping: float = 60.0
    kept: float = 1.0
    stop: float = 1.0
    gap: float = 0.0

    def force(self, travel: float, speed: float) -> float:
        """Return the force in N on the mass; a contact never pulls."""
        pressed = travel - self.gap
        if pressed <= 0.0:
            return 0.0
        elastic = self.stiffness * (pressed + 3.0 * max(0.0, pressed - self.stop))
        blend = 0.5 * (1.0 + self.kept) + 0.5 * (1.0 - self.kept) * math.tanh(speed / 0.1)
        return max(0.0, elastic * blend + self.damping * speed * min(1.0, pressed / 0.002))


@cache
def curves_of(struck: Struck) -> dict[Role, Floats]:
    """Return force in kN and travel in mm over time, shape ``(n,)``; integrated by small explicit steps."""
    travel, speed = 0.0, struck.speed
    forces, travels = np.zeros(TIME.size), np.zeros(TIME.size)
    small = STEP / FINER
    for index in range(round(BEGIN_S / STEP), TIME.size):
        forces[index] = struck.force(travel, speed) / 1e3
        travels[index] = max(0.0, travel) * 1e3
        for _ in range(FINER):
            speed -= struck.force(travel, speed) / struck.mass * small
            travel += speed * small
    return {"force": forces, "travel": travels}


@dataclass(frozen=True, kw_only=True)
class Panel:
    """One change: in words, the test, the model, and the behaviour and side that are wrong then."""

    changed: str
    test: Struck
    model: Struck
    wrong: str


TEST: Final = Struck(damping=250.0)
KEEPING: Final = Struck(kept=0.55)
STOPPED: Final = Struck(damping=100.0, stop=0.07)
LOOSE: Final = Struck(damping=100.0, kept=0.7, gap=0.008)
PANELS: Final = (
    Panel(changed="spring 40 % softer", test=TEST, model=replace(TEST, stiffness=36e3),
          wrong="stiffness: too little"),
    Panel(changed="a third of the damping", test=TEST, model=replace(TEST, damping=80.0),
          wrong="damping: too little"),
    Panel(changed="unloading keeps 85 % instead of 55 %", test=KEEPING, model=replace(KEEPING, kept=0.85),
          wrong="hysteresis: too little"),
    Panel(changed="gap of 20 mm instead of 8 mm", test=LOOSE, model=replace(LOOSE, gap=0.02),
          wrong="gap: too much"),
    Panel(changed="stop at 70 mm missing", test=STOPPED, model=replace(STOPPED, stop=1.0),
          wrong="densification: too little"),
    Panel(changed="20 % more mass, same part", test=TEST, model=replace(TEST, mass=24.0),
          wrong="mass: too much"),
)  # fmt: skip


def first_hint(panel: Panel) -> str:
    """Return group and side of the first hint."""
    test, model = curves_of(panel.test), curves_of(panel.model)
    hint = hints(
        EvidenceChannel(
            name=role,
            role=role,
            pair=AlignedPair(time=TIME, reference=test[role], candidate=model[role]),
        )
        for role in test
    )[0]
    return f"{hint.group}: {hint.side}"


def picture() -> str:
    """Return the picture as SVG: the test solid, the model dashed."""
    width, height, columns = 300, 210, 3
    rows = -(-len(PANELS) // columns)
    size = f"0 0 {columns * width} {rows * height}"
    font = 'font-family="Archivo, Segoe UI, Arial, sans-serif" font-size="13"'
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{size}" {font} role="img">',
        "<title>Force on a mass that meets a part: test solid, model dashed, and the first hint</title>",
        f'<rect width="100%" height="100%" fill="{LIGHT.panel}"/>',
    ]
    for index, panel in enumerate(PANELS):
        left, top = index % columns * width, index // columns * height
        curves = curves_of(panel.test)["force"], curves_of(panel.model)["force"]
        scale = 120.0 / max(float(curve.max()) for curve in curves)
        parts.append(f'<text x="{left + 12}" y="{top + 20}" fill="{LIGHT.ink}">{panel.changed}</text>')
        said = first_hint(panel)
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
