"""What the sketches of the demo are drawn with: frame, labels, arrows, rows of masses and joints, as SVG."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.plots import LIGHT

if TYPE_CHECKING:
    from collections.abc import Sequence

    Node = str
    """Words in a box, lines parted by a bar; empty for the ground."""
    Joint = tuple[str, str]
    """Letters of what lies side by side (see `ELEMENTS`), and words below, lines parted by a bar."""

FONT: Final = 'font-family="Archivo, Segoe UI, Arial, sans-serif"'
WIDTH, HEIGHT = 900, 372
CHAIN_LEFT, BOX, GAP, GROUND = 306, 54, 58, 8
BOX_HEIGHT, ROW = 58, 15

STEEL: Final = f'fill="{LIGHT.rule}" stroke="{LIGHT.edge}" stroke-width="1.3"'
BODY: Final = f'fill="{LIGHT.outer_band}" stroke="{LIGHT.test}" stroke-width="1.6" stroke-linejoin="round"'
SOFT: Final = f'fill="{LIGHT.inner_band}" stroke="{LIGHT.band_edge}" stroke-width="1.3"'
LINE: Final = f'fill="none" stroke="{LIGHT.test}" stroke-width="1.6"'
THIN: Final = f'fill="none" stroke="{LIGHT.edge}" stroke-width="1"'

ELEMENTS: Final = {
    "s": "M0 0h12l3-5 6 10 6-10 6 10 6-10 6 10 3-5h10",
    "d": "M0 0h24M34-5h-12v10h12M30-4v8M30 0h28",
    "m": "M0 0h5l2-4 4 8 4-8 4 8 4-8 2 4h9M44-4h-12v8h12M40-3v6M40 0h18",
    "f": "M0 0h20v-4h16M22 1h16v-1h20",
}
"""Spring, dashpot, Maxwell branch, dry friction; a ``c`` in front says that the joint can part."""


def text(
    words: str, x: float, y: float, *, size: float = 12, anchor: str = "start", bold: bool = False
) -> str:
    """Return one line of words."""
    weight, colour = (' font-weight="600"', LIGHT.ink) if bold else ("", LIGHT.muted)
    return (
        f'<text x="{x:g}" y="{y:g}" font-size="{size:g}" text-anchor="{anchor}"{weight} fill="{colour}">'
        f"{words}</text>"
    )


def label(words: str, at: tuple[float, float], tip: tuple[float, float]) -> str:
    """Return words with a thin line and a dot at what they name, from the nearer end of the words."""
    x, y = at
    away = x + 6.2 * len(words) + 3 if tip[0] > x + 3 * len(words) else x - 4
    dot = f'<circle cx="{tip[0]:g}" cy="{tip[1]:g}" r="2.2" fill="{LIGHT.edge}"/>'
    leader = f'<path d="M{away:.0f} {y - 4:g}L{tip[0]:g} {tip[1]:g}" {THIN}/>'
    return leader + dot + text(words, x, y)


def arrow(start: tuple[float, float], end: tuple[float, float], *, both: bool = False) -> str:
    """Return an upright or level arrow: the motion (one head), or a dimension (two heads)."""
    (x, y), (u, v) = start, end
    colour = LIGHT.edge if both else LIGHT.model
    across, down = (u > x) - (u < x), (v > y) - (v < y)
    heads = [_head(u, v, across, down, colour)]
    if both:
        heads.append(_head(x, y, -across, -down, colour))
    stroke = f'stroke="{colour}" stroke-width="{1 if both else 2.4:g}"'
    return f'<path d="M{x:g} {y:g}L{u - 4 * across:g} {v - 4 * down:g}" {stroke}/>' + "".join(heads)


def _head(x: float, y: float, across: int, down: int, colour: str) -> str:
    back_x, back_y = x - 8 * across, y - 8 * down
    side_x, side_y = 4 * down, 4 * across
    return (
        f'<path d="M{x:g} {y:g}L{back_x + side_x:g} {back_y + side_y:g}L{back_x - side_x:g} '
        f'{back_y - side_y:g}z" fill="{colour}"/>'
    )


def sensor(x: float, y: float) -> str:
    """Return the mark of a transducer."""
    return f'<rect x="{x - 4:g}" y="{y - 4:g}" width="8" height="8" fill="{LIGHT.alert}"/>'


def floor(x: float, y: float, width: float, *, side: int = 1) -> str:
    """Return an immovable floor, hatched below (``side`` 1), or ceiling, hatched above (-1)."""
    strokes = "".join(
        f"M{x + place:g} {y + 9 * side:g}l8{-9 * side:+g}" for place in range(0, int(width) - 7, 10)
    )
    return f'<path d="M{x:g} {y:g}h{width:g}" {LINE}/><path d="{strokes}" {THIN}/>'


def wall(x: float, y: float, height: float, *, side: int = 1) -> str:
    """Return an immovable wall, hatched on its right (``side`` 1) or left (-1)."""
    strokes = "".join(f"M{x:g} {y + place + 9:g}l{8 * side:g}-9" for place in range(0, int(height) - 7, 10))
    return f'<path d="M{x:g} {y:g}v{height:g}" {LINE}/><path d="{strokes}" {THIN}/>'


def chain(y: float, title: str, nodes: Sequence[Node], joints: Sequence[Joint], *, colour: str) -> list[str]:
    """Return a row of masses and joints.

    Parameters
    ----------
    y
        Middle of the row.
    title
        Words above it.
    nodes, joints
        Bodies, and what acts between each and the next.
    colour
        Of the boxes.

    Returns
    -------
    list of str
    """
    parts = [text(title, CHAIN_LEFT, y - 49, size=13, bold=True)]
    x = CHAIN_LEFT
    for index, node in enumerate(nodes):
        if node:
            parts.append(_box(node, x, y, colour))
            x += BOX
        else:
            parts.append(wall(x if index else x + GROUND, y - 28, 56, side=1 if index else -1))
            x += 0 if index else GROUND
        if index < len(joints):
            parts += _joint(joints[index], x, y)
            x += GAP
    return parts


def _box(words: str, x: float, y: float, colour: str) -> str:
    lines = words.split("|")
    first = y + 4 - 7 * (len(lines) - 1)
    box = (
        f'<rect x="{x}" y="{y - BOX_HEIGHT / 2:g}" width="{BOX}" height="{BOX_HEIGHT}" rx="4" '
        f'fill="{LIGHT.well}" stroke="{colour}" stroke-width="1.8"/>'
    )
    return box + "".join(
        text(line, x + BOX / 2, first + 14 * place, size=11.5, anchor="middle")
        for place, line in enumerate(lines)
    )


def _joint(joint: Joint, x: float, y: float) -> list[str]:
    letters, words = joint
    can_part = letters.startswith("c")
    elements = letters.removeprefix("c")
    top = y - ROW * (len(elements) - 1) / 2
    parts = []
    for place, letter in enumerate(elements):
        parts.append(
            f'<path transform="translate({x:g} {top + ROW * place:g})" d="{ELEMENTS[letter]}" {THIN}/>'
        )
    if can_part:
        parts.append(
            f'<circle cx="{x + 1:g}" cy="{y:g}" r="3.4" fill="{LIGHT.panel}" stroke="{LIGHT.model}"/>'
        )
    for place, line in enumerate(words.split("|")):
        parts.append(text(line, x + GAP / 2, y + 46 + 13 * place, size=11, anchor="middle"))
    return parts


def framed(title: str, parts: Sequence[str]) -> str:
    """Return a whole sketch on a background of its own, with the key of its signs."""
    key = (
        "○ can part",
        "zigzag: spring",
        "cup: dashpot",
        "both in a row: Maxwell branch",
        "step: dry friction",
    )
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {WIDTH} {HEIGHT}" {FONT} role="img">',
            f"<title>{title}: set-up, and the masses and joints of laboratory and model</title>",
            (
                f'<rect x="0.5" y="0.5" width="{WIDTH - 1}" height="{HEIGHT - 1}" rx="8" '
                f'fill="{LIGHT.panel}" stroke="{LIGHT.rule}"/>'
            ),
            text(title, 20, 31, size=17, bold=True),
            f'<path d="M288 50V{HEIGHT - 40}" {THIN} stroke-opacity="0.5"/>',
            *parts,
            f'<rect x="20" y="{HEIGHT - 22}" width="8" height="8" fill="{LIGHT.alert}"/>',
            text("sensor", 34, HEIGHT - 14, size=11.5),
            text("&#160;&#160;&#160;&#160; ".join(key), CHAIN_LEFT, HEIGHT - 14, size=11.5),
            "</svg>",
            "",
        ]
    )
