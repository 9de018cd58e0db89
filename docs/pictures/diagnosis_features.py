"""Draw the picture of ``docs/features-and-hints.md``: ``python -m docs.pictures.diagnosis_features``.

A mass meets a spring and a dashpot, sometimes after a gap or up to a stop; one thing is changed in each
panel. The words below a panel are those of the first hint, computed from force and travel.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Final

from correlate.diagnosis.hints import hints
from correlate.plots import LIGHT
from tests.diagnosis.struck_mass import TIME, Struck, curves, evidence

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

PICTURE: Final = Path(__file__).parent / "hints.svg"


@dataclass(frozen=True, kw_only=True)
class Panel:
    """One change: in words, the test, the model, and the behaviour and side that are wrong then."""

    changed: str
    test: Struck
    model: Struck
    wrong: str


PLAIN: Final = Struck(damping=0.06, kept=1.0, gap=0.0, stop=1e3)
TEST: Final = replace(PLAIN, damping=0.25)
KEEPING: Final = replace(PLAIN, kept=0.55)
STOPPED: Final = replace(PLAIN, damping=0.1, stop=70.0)
LOOSE: Final = replace(PLAIN, damping=0.1, kept=0.7, gap=8.0)
PANELS: Final = (
    Panel(changed="spring 40 % softer", test=TEST, model=replace(TEST, stiffness=36.0),
          wrong="stiffness: too little"),
    Panel(changed="a third of the damping", test=TEST, model=replace(TEST, damping=0.08),
          wrong="damping: too little"),
    Panel(changed="unloading keeps 85 % instead of 55 %", test=KEEPING, model=replace(KEEPING, kept=0.85),
          wrong="hysteresis: too little"),
    Panel(changed="gap of 20 mm instead of 8 mm", test=LOOSE, model=replace(LOOSE, gap=20.0),
          wrong="gap: too much"),
    Panel(changed="stop at 70 mm missing", test=STOPPED, model=replace(STOPPED, stop=1e3),
          wrong="densification: too little"),
    Panel(changed="20 % more mass, same part", test=TEST, model=replace(TEST, mass=24.0),
          wrong="mass: too much"),
)  # fmt: skip


def first_hint(panel: Panel) -> str:
    """Return group and side of the first hint."""
    hint = hints(evidence(panel.test, panel.model, speeds=(panel.test.speed,)))[0]
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
        forces = curves(panel.test)["force"], curves(panel.model)["force"]
        scale = 120.0 / max(float(force.max()) for force in forces)
        parts.append(f'<text x="{left + 12}" y="{top + 20}" fill="{LIGHT.ink}">{panel.changed}</text>')
        said = first_hint(panel)
        parts.append(f'<text x="{left + 12}" y="{top + 188}" fill="{LIGHT.muted}">{said}</text>')
        parts.append(_line(forces[0] * scale, left, top, f'stroke="{LIGHT.test}" stroke-width="2"'))
        dashed = f'stroke="{LIGHT.model}" stroke-width="1.6" stroke-dasharray="6 3"'
        parts.append(_line(forces[1] * scale, left, top, dashed))
    return "\n".join([*parts, "</svg>", ""])


def _line(heights: Floats, left: int, top: int, style: str) -> str:
    kept = slice(None, None, 5)
    x = left + 12 + TIME[kept] / TIME[-1] * 276
    y = top + 165 - heights[kept]
    points = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))
    return f'<polyline fill="none" {style} points="{points}"/>'


if __name__ == "__main__":
    PICTURE.write_text(picture(), encoding="utf-8")
