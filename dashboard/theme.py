"""The theme of the pages: colours and typeface come from ``correlate.plots``, where each is written once."""

from __future__ import annotations

from dataclasses import fields
from typing import Any, Final
from urllib.parse import quote

from correlate.plots import DARK, FONT, LIGHT, Theme, font_face
from correlate.plots.palette import component_colours

SCHEME_ATTRIBUTE: Final = "data-mantine-color-scheme"
"""Attribute of the root element that says which theme is shown."""

MANTINE: Final[dict[str, Any]] = {
    "fontFamily": FONT,
    "primaryColor": "accent",
    "colors": {"accent": ["var(--accent)"] * 10},
    "defaultRadius": 4,
    "focusRing": "auto",
}
"""Settings of the component library."""


def style_sheet() -> str:
    """Return typeface and colours as a style sheet, dark ones under the attribute of the root element.

    Paper is light whatever the screen shows.
    """
    return "\n".join(
        (
            font_face(),
            f':root {{ --mark: url("{mark()}"); }}',
            f":root {{ --font: {FONT}; color-scheme: light; {LIGHT.as_css()} }}",
            f":root {{ --on-paper: {_on_paper()}; }}",
            f'@media screen {{ :root[{SCHEME_ATTRIBUTE}="dark"] {{ color-scheme: dark; {DARK.as_css()} }} }}',
        )
    )


def dark_colours() -> str:
    """Return the colours of the dark theme, for a page that follows the system alone."""
    return DARK.as_css()


def _on_paper() -> str:
    """Return every colour of dark figures followed by its light one, for figures that are printed."""
    pairs = [(getattr(DARK, one.name), getattr(LIGHT, one.name)) for one in fields(DARK)]
    light = component_colours("light")
    pairs += [(colour, light[name]) for name, colour in component_colours("dark").items()]
    return " ".join(f"{dark} {paper}" for dark, paper in pairs)


def theme_of(text: str | None) -> Theme:
    """Return the theme a browser asks for; light unless it says dark."""
    return "dark" if text == "dark" else "light"


def mark() -> str:
    """Return the mark of the project, a test and a model curve, as an address that needs no file."""
    curve = "<path d='{path}' fill='none' stroke='{colour}' stroke-width='3' stroke-linecap='round'/>"
    picture = (
        "<svg xmlns='http://www.w3.org/2000/svg' viewBox='0 0 32 32'>"
        f"<rect width='32' height='32' rx='6' fill='{LIGHT.test}'/>"
        + curve.format(path="M5 24c6 0 5-15 10-15s5 15 11 15", colour=DARK.test)
        + curve.format(path="M5 24c8 0 8-10 13-10s5 10 9 10", colour=DARK.model)
        + "</svg>"
    )
    return "data:image/svg+xml," + quote(picture)
