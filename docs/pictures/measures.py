"""Compute the tables and the picture of ``docs/measures.md``: ``python docs/pictures/measures.py``.

One invented force curve with two peaks and a ripple is made wrong in ten ways; every measure of the table
says what it makes of each. The page is written between its marks, the picture beside this script.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate import METRICS, AlignedPair, AlignedRepeats, Signal
from correlate.conditioning import filter_cfc
from correlate.plots import LIGHT

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

PAGE: Final = Path(__file__).parents[1] / "measures.md"
PICTURE: Final = Path(__file__).parent / "measures.svg"
TIME: Final[Floats] = np.arange(1201, dtype=np.float64) * 1e-4
REPEAT_FACTORS: Final = (0.97, 1.0, 1.03)
"""The measures that look at repeats are given these multiples of the curve."""


def curve(time: Floats, *, second_kN: float = 3.0) -> Floats:
    """Return the reference at any times, in kN: a peak of 5, a second of 3, a ripple of 300 Hz."""
    first = 5.0 * np.sin(np.pi * np.clip((time - 0.020) / 0.030, 0, 1)) ** 2
    second = second_kN * np.sin(np.pi * np.clip((time - 0.055) / 0.030, 0, 1)) ** 2
    since = np.clip(time - 0.022, 0, None)
    ripple = 0.6 * np.exp(-since / 0.02) * np.sin(2 * np.pi * 300 * since)
    return np.asarray(first + second + ripple, dtype=np.float64)


def _noisy(time: Floats) -> Floats:
    return curve(time) + 0.4 * np.random.default_rng(20).standard_normal(time.size)


def _filtered(time: Floats) -> Floats:
    raw = Signal(samples=curve(time), start_s=0.0, step_s=1e-4, unit="kN", channel="force")
    return filter_cfc(raw, 60).samples


WRONG: Final[dict[str, Callable[[Floats], Floats]]] = {
    "late": lambda time: curve(time - 0.004),
    "early": lambda time: curve(time + 0.004),
    "high": lambda time: 1.2 * curve(time),
    "low": lambda time: 0.8 * curve(time),
    "stretched": lambda time: curve(0.020 + (time - 0.020) / 1.15),
    "offset": lambda time: curve(time) + 0.5,
    "noisy": _noisy,
    "second peak missing": lambda time: curve(time, second_kN=0.0),
    "wrong filter": _filtered,
    "wrong sign": lambda time: -curve(time),
}
"""Ten ways in which a curve can be wrong: 4 ms, 20 %, 15 % in time, 0.5 kN, 0.4 kN of noise, CFC 60 …"""


def values() -> dict[str, dict[str, float]]:
    """Return what every measure says of every wrong curve, by measure and way."""
    found: dict[str, dict[str, float]] = {name: {} for name in METRICS}
    reference = curve(TIME)
    for way, wrong in WRONG.items():
        candidate = wrong(TIME)
        pair = AlignedPair(time=TIME, reference=reference, candidate=candidate)
        repeats = AlignedRepeats(
            time=TIME, references=[factor * reference for factor in REPEAT_FACTORS], candidates=[candidate]
        )
        for name, entry in METRICS.items():
            given = repeats if entry.needs == "repeats" else None
            value = entry.evaluate(pair, repeats=given).value
            if value is None:
                raise ValueError(f"{name} says nothing of '{way}'")
            found[name][way] = value
    return found


def ranking(said: dict[str, float], *, higher_is_better: bool) -> list[list[str]]:
    """Return the ways from the worst to the least bad; ways that differ by less than 0.0005 share a place.

    Parameters
    ----------
    said
        What one measure says, by way.
    higher_is_better
        Of the measure.

    Returns
    -------
    list of list of str
    """
    # Rounded, so that a tie does not hang on the last bit.
    order = sorted(said, key=lambda way: round(said[way] if higher_is_better else -said[way], 9))
    places: list[list[str]] = []
    for way in order:
        if places and abs(said[places[-1][-1]] - said[way]) < 5e-4:
            places[-1].append(way)
        else:
            places.append([way])
    return places


def value_table() -> str:
    """Return the table of numbers as Markdown, one row per measure."""
    lines = [f"| measure | best | {' | '.join(WRONG)} |", f"| --- | --- |{' --- |' * len(WRONG)}"]
    for name, said in values().items():
        numbers = " | ".join(f"{said[way]:.3f}" for way in WRONG)
        lines.append(f"| `{name}` | {METRICS[name].best:g} | {numbers} |")
    return "\n".join(lines)


def ranking_table() -> str:
    """Return the order of the ways by measure as Markdown; equal ones joined by an equals sign."""
    lines = ["| measure | from the worst to the least bad |", "| --- | --- |"]
    for name, said in values().items():
        places = ranking(said, higher_is_better=METRICS[name].higher_is_better)
        lines.append(f"| `{name}` | {' > '.join(' = '.join(place) for place in places)} |")
    return "\n".join(lines)


def measure_table() -> str:
    """Return the table of measures as Markdown: range, direction, symmetry, blindness, source."""
    lines = [
        "| measure | what it is | range | better | symmetric | cannot see | source |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for name, entry in METRICS.items():
        high = "∞" if np.isinf(entry.highest) else f"{entry.highest:g}"
        lines.append(
            f"| `{name}` | {entry.title} | {entry.lowest:g} … {high} | "
            f"{'higher' if entry.higher_is_better else 'lower'} | {'yes' if entry.symmetric else 'no'} | "
            f"{entry.blind_to} | {entry.source} |"
        )
    return "\n".join(lines)


def page(text: str) -> str:
    """Return the page with its computed tables in place of those between the marks.

    Parameters
    ----------
    text
        The page as it is.

    Returns
    -------
    str
    """
    for mark, table in (
        ("measures", measure_table()),
        ("values", value_table()),
        ("ranking", ranking_table()),
    ):
        start, end = f"<!-- computed: {mark} -->\n", "<!-- end -->"
        head, found, rest = text.partition(start)
        _, ended, tail = rest.partition(end)
        if not (found and ended):
            raise ValueError(f"the page has no place for the table of {mark}")
        text = f"{head}{start}{table}\n{end}{tail}"
    return text


def picture() -> str:
    """Return the picture of the ten ways as SVG: the test solid, the model dashed."""
    width, height, columns = 220, 190, 5
    rows = -(-len(WRONG) // columns)
    size = f"0 0 {columns * width} {rows * height}"
    font = 'font-family="Archivo, Segoe UI, Arial, sans-serif" font-size="13"'
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{size}" {font} role="img">',
        "<title>Ten ways in which a curve can be wrong: test solid, model dashed</title>",
        f'<rect width="100%" height="100%" fill="{LIGHT.panel}"/>',
    ]
    for index, (way, wrong) in enumerate(WRONG.items()):
        left, top = index % columns * width, index // columns * height
        parts.append(f'<text x="{left + 12}" y="{top + 20}" fill="{LIGHT.ink}">{way}</text>')
        parts.append(_line(curve(TIME), left, top, f'stroke="{LIGHT.test}" stroke-width="2"'))
        dashed = f'stroke="{LIGHT.model}" stroke-width="1.6" stroke-dasharray="6 3"'
        parts.append(_line(wrong(TIME), left, top, dashed))
    return "\n".join([*parts, "</svg>", ""])


def _line(samples: Floats, left: int, top: int, style: str) -> str:
    kept = slice(None, None, 4)
    x = left + 12 + TIME[kept] / TIME[-1] * 196
    y = top + 108 - 13.0 * samples[kept]
    points = " ".join(f"{a:.1f},{b:.1f}" for a, b in zip(x, y, strict=True))
    return f'<polyline fill="none" {style} points="{points}"/>'


if __name__ == "__main__":
    PAGE.write_text(page(PAGE.read_text(encoding="utf-8")), encoding="utf-8")
    PICTURE.write_text(picture(), encoding="utf-8")
