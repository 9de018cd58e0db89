"""Colours of figures on paper."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Final

from plotly.io import to_json

from correlate.plots import DARK, LIGHT, pair_view_figure
from correlate.plots.palette import component_colours
from dashboard.theme import style_sheet
from tests.plots.test_pair_view import view

if TYPE_CHECKING:
    from correlate.plots import Theme

LIGHT_THEME: Final[Theme] = "light"
DARK_THEME: Final[Theme] = "dark"


def on_paper() -> dict[str, str]:
    """Return the light colour of each dark one, as the browser reads them."""
    (words,) = re.findall(r"--on-paper: ([^;]+);", style_sheet())
    colours = words.split()
    assert len(set(colours[::2])) == len(colours[::2])
    return dict(zip(colours[::2], colours[1::2], strict=True))


def test_every_colour_of_a_dark_figure_has_a_light_one() -> None:
    """What is printed from a dark screen is what the light theme draws."""
    light, dark = (
        re.findall(r"#[0-9a-f]{6}", str(to_json(pair_view_figure(view(), theme=theme))))
        for theme in (LIGHT_THEME, DARK_THEME)
    )
    assert dark != light
    assert [on_paper()[colour] for colour in dark] == light


def test_each_part_of_the_palette_keeps_its_meaning() -> None:
    """The model is printed as the model, a component as the same component."""
    assert on_paper()[DARK.model] == LIGHT.model
    assert on_paper()[component_colours("dark")["slope"]] == component_colours("light")["slope"]
