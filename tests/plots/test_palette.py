"""Colours: each written once, readable for everybody.

Contrast after WCAG 2.1 (success criteria 1.4.3 and 1.4.11; formula of relative luminance).
"""

from __future__ import annotations

import re
from dataclasses import asdict
from itertools import combinations
from pathlib import Path

import numpy as np
import pytest

from correlate.plots import DARK, LIGHT, Palette, palette
from tests.plots.colour_vision import VISIONS, difference, seen

ROOT = Path(__file__).parents[2]
TEXT_PAIRS = [
    ("ink", "page"),
    ("ink", "panel"),
    ("ink", "well"),
    ("ink", "outer_band"),
    ("ink", "alert_panel"),
    ("muted", "page"),
    ("muted", "panel"),
    ("muted", "well"),
    ("accent", "page"),
    ("accent", "panel"),
    ("accent", "alert_panel"),
    ("alert", "alert_panel"),
]
DRAWN_PAIRS = [
    ("test", "panel"),
    ("test", "outer_band"),
    ("test", "inner_band"),
    ("model", "panel"),
    ("model", "outer_band"),
    ("second_model", "panel"),
    ("third_model", "panel"),
    ("fourth_model", "panel"),
    ("accent", "outer_band"),
    ("edge", "panel"),
    ("ink", "inner_band"),
]
COLOUR = re.compile(r"#[0-9a-fA-F]{3,8}\b|\brgba?\(|\bhsla?\(")


def luminance(colour: str) -> float:
    """Return the relative luminance of WCAG 2.1."""
    parts = (int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5))
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(first: str, second: str) -> float:
    """Return the contrast ratio of WCAG 2.1."""
    low, high = sorted((luminance(first), luminance(second)))
    return (high + 0.05) / (low + 0.05)


def test_contrast_of_black_on_white_is_the_published_21() -> None:
    """The check itself gives the ratio that WCAG states for black on white."""
    assert contrast("#000000", "#ffffff") == pytest.approx(21.0)


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("pair", TEXT_PAIRS, ids=" on ".join)
def test_text_is_readable(colours: Palette, pair: tuple[str, str]) -> None:
    """Text has a contrast of 4.5 or more (level AA)."""
    assert contrast(getattr(colours, pair[0]), getattr(colours, pair[1])) >= 4.5


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
@pytest.mark.parametrize("pair", DRAWN_PAIRS, ids=" on ".join)
def test_lines_are_visible(colours: Palette, pair: tuple[str, str]) -> None:
    """Curves, bars and borders have a contrast of 3 or more (level AA)."""
    assert contrast(getattr(colours, pair[0]), getattr(colours, pair[1])) >= 3.0


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
def test_test_and_model_differ_without_hue(colours: Palette) -> None:
    """The two curves differ in lightness, so that they stay apart in grey and for every colour vision."""
    assert contrast(colours.test, colours.model) >= 1.7


def test_themes_are_chosen_by_name() -> None:
    """Each name gives its own palette."""
    assert palette("light") is LIGHT
    assert palette("dark") is DARK


@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
def test_no_colour_is_written_twice(colours: Palette) -> None:
    """Within a theme each colour has one name."""
    values = list(asdict(colours).values())
    assert len(set(values)) == len(values)


def test_css_names_every_colour() -> None:
    """The custom properties carry every colour of the palette, with dashes."""
    assert "--inner-band: #8fc3c4;" in LIGHT.as_css()
    assert LIGHT.as_css().count("--") == len(asdict(LIGHT))


@pytest.mark.parametrize("folder", ["dashboard", "correlate/plots", "correlate/report"])
def test_colours_are_written_in_the_palette_only(folder: str) -> None:
    """No other file of pictures and pages writes a colour of its own."""
    guilty = [
        f"{path.relative_to(ROOT)}: {match.group()}"
        for path in sorted((ROOT / folder).rglob("*"))
        if path.suffix in {".py", ".css", ".js", ".html"} and path.name != "palette.py"
        # Of others, and unchanged: figures say all colours to the drawing library.
        if "vendored" not in path.parts
        for match in COLOUR.finditer(path.read_text(encoding="utf-8").replace("&#", ""))
    ]
    assert guilty == []


@pytest.mark.parametrize(
    ("first", "second", "published"),
    [
        ((50.0, 2.6772, -79.7751), (50.0, 0.0, -82.7485), 2.0425),
        ((50.0, -1.0, 2.0), (50.0, 0.0, 0.0), 2.3669),
        ((50.0, 2.5, 0.0), (73.0, 25.0, -18.0), 27.1492),
        ((22.7233, 20.0904, -46.6940), (23.0331, 14.9730, -42.5619), 2.0373),
    ],
)
def test_the_difference_of_colours_is_the_published_one(
    first: tuple[float, ...], second: tuple[float, ...], published: float
) -> None:
    """Pairs 1, 7, 17 and 31 of the test data of Sharma, Wu and Dalal (2005), from memory."""
    assert difference(np.array(first), np.array(second)) == pytest.approx(published, abs=1e-4)


@pytest.mark.parametrize("vision", VISIONS)
@pytest.mark.parametrize("colours", [LIGHT, DARK], ids=["light", "dark"])
def test_curves_drawn_together_differ_for_every_eye(colours: Palette, vision: str) -> None:
    """Test and up to four releases differ by 20 (CIEDE2000), with and without each of two kinds of cones."""
    drawn = ("test", "model", "second_model", "third_model", "fourth_model")
    for first, second in combinations([getattr(colours, name) for name in drawn], 2):
        assert difference(seen(first, vision), seen(second, vision)) >= 20, (first, second)
