"""Judge the hints and draw how often they are right: ``python -m docs.pictures.hint_reliability``.

Takes about a minute. Prints the figures of ``docs/features-and-hints.md`` and writes the picture.
"""

from __future__ import annotations

from pathlib import Path
from typing import Final

from scipy.stats import binomtest

from correlate.plots import LIGHT
from tests.diagnosis.judging import COUNT, SEED, judged, main, reliability
from tests.diagnosis.worlds.families import JUDGING_ONLY

PICTURE: Final = Path(__file__).parent / "hint-reliability.svg"
SIZE, LEFT, TOP = 260, 60, 20
"""Of the square that the diagonal crosses, px, and its place."""


def picture(table: list[tuple[float, float, int]]) -> str:
    """Return the picture as SVG: weight against share right, with intervals of 95 % and the diagonal."""
    font = 'font-family="Archivo, Segoe UI, Arial, sans-serif" font-size="13"'
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 400 340" {font} role="img">',
        "<title>How often hints of a given probability are right</title>",
        f'<rect width="100%" height="100%" fill="{LIGHT.panel}"/>',
        f'<rect x="{LEFT}" y="{TOP}" width="{SIZE}" height="{SIZE}" fill="none" stroke="{LIGHT.muted}"/>',
        (
            f'<line x1="{LEFT}" y1="{TOP + SIZE}" x2="{LEFT + SIZE}" y2="{TOP}" stroke="{LIGHT.muted}" '
            'stroke-dasharray="4 4"/>'
        ),
    ]
    for share in (0.0, 0.5, 1.0):
        parts.append(_text(_x(share), TOP + SIZE + 20, f"{share:g}", "middle"))
        parts.append(_text(LEFT - 8, _y(share) + 4, f"{share:g}", "end"))
    parts.append(_text(_x(0.5), TOP + SIZE + 42, "stated probability", "middle"))
    parts.append(
        f'<text transform="translate(18 {_y(0.5)}) rotate(-90)" text-anchor="middle" '
        f'fill="{LIGHT.ink}">share right</text>'
    )
    for weight, right, number in table:
        interval = binomtest(round(right * number), number).proportion_ci(0.95, method="wilson")
        parts.append(
            f'<line x1="{_x(weight):.1f}" x2="{_x(weight):.1f}" y1="{_y(interval.low):.1f}" '
            f'y2="{_y(interval.high):.1f}" stroke="{LIGHT.model}" stroke-width="2"/>'
        )
        parts.append(
            f'<circle cx="{_x(weight):.1f}" cy="{_y(right):.1f}" r="5" fill="{LIGHT.model}">'
            f"<title>{number} hints of about {weight:.2f}: {right:.2f} right</title></circle>"
        )
    return "\n".join([*parts, "</svg>", ""])


def _x(share: float) -> float:
    return LEFT + share * SIZE


def _y(share: float) -> float:
    return TOP + (1.0 - share) * SIZE


def _text(x: float, y: float, words: str, anchor: str) -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" fill="{LIGHT.ink}">{words}</text>'


if __name__ == "__main__":
    PICTURE.write_text(picture(reliability(judged(JUDGING_ONLY, COUNT, seed=SEED))), encoding="utf-8")
    main()
