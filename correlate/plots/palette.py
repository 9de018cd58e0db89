"""Colours, themes and typeface."""

from __future__ import annotations

from base64 import b64encode
from dataclasses import dataclass, fields
from functools import cache
from importlib.resources import files
from typing import Final, Literal

FONT: Final = 'Archivo, "Segoe UI", "Helvetica Neue", Arial, sans-serif'
"""Typeface of figures and pages; the first is shipped, the others stand in for letters it lacks."""


@cache
def font_face() -> str:
    """Return the shipped typeface as a rule of a style sheet.

    Returns
    -------
    str
        An ``@font-face`` rule that holds the font file itself (Archivo, SIL Open Font License 1.1).
    """
    content = files("correlate.plots").joinpath("fonts/archivo-latin.woff2").read_bytes()
    data = b64encode(content).decode("ascii")
    return (
        '@font-face { font-family: "Archivo"; font-weight: 100 900; font-style: normal; '
        f'src: url("data:font/woff2;base64,{data}") format("woff2"); }}'
    )


Theme = Literal["light", "dark"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Palette:
    """The colours of one theme, as ``#rrggbb``.

    Attributes
    ----------
    page, panel, well
        Behind everything; behind a card or figure; behind an inset part of a card.
    ink, muted
        Text; less important text.
    rule, edge
        Lines that separate; borders of things one can operate.
    test, model
        The two curves.
    second_model, third_model, fourth_model
        Curves of further releases beside the two.
    inner_band, outer_band, band_edge
        The two corridors and their edges.
    accent
        What one can operate or follow, and bars.
    alert, alert_panel
        Text and background of a message that something is wrong.
    """

    page: str
    panel: str
    well: str
    ink: str
    muted: str
    rule: str
    edge: str
    test: str
    model: str
    second_model: str
    third_model: str
    fourth_model: str
    inner_band: str
    outer_band: str
    band_edge: str
    accent: str
    alert: str
    alert_panel: str

    def as_css(self) -> str:
        """Return the colours as custom properties of a style sheet, ``--inner-band: #…`` and so on."""
        return " ".join(
            f"--{item.name.replace('_', '-')}: {getattr(self, item.name)};" for item in fields(self)
        )


LIGHT: Final = Palette(
    page="#e9eff1",
    panel="#fdfefe",
    well="#f1f5f6",
    ink="#11242e",
    muted="#4c616c",
    rule="#d3dee2",
    edge="#7d929c",
    test="#11364a",
    model="#c8480f",
    second_model="#7c4be8",
    third_model="#2e9384",
    fourth_model="#4a1a0c",
    inner_band="#8fc3c4",
    outer_band="#dcebec",
    band_edge="#6f9fa3",
    accent="#0b6470",
    alert="#8a2249",
    alert_panel="#f9eaf0",
)
DARK: Final = Palette(
    page="#0c151a",
    panel="#142128",
    well="#1a2a32",
    ink="#e5eef1",
    muted="#9fb3bc",
    rule="#2b3e48",
    edge="#667d89",
    test="#e3eff4",
    model="#ff9a52",
    second_model="#a3a3f5",
    third_model="#35788a",
    fourth_model="#a0603c",
    inner_band="#2f666c",
    outer_band="#1d343b",
    band_edge="#4f8087",
    accent="#74c7d0",
    alert="#f5a8c4",
    alert_panel="#351c28",
)


_COMPONENTS: Final[dict[Theme, dict[str, str]]] = {
    # Told apart by lightness first, so that they stay apart in grey print and for every kind of eye.
    "light": {"corridor": "#123b4d", "phase": "#b4c3c9", "magnitude": "#c8480f", "slope": "#e3b04b"},
    "dark": {"corridor": "#8fd0d8", "phase": "#4f6672", "magnitude": "#ff8a3d", "slope": "#f6dfa4"},
}


def component_colours(theme: Theme) -> dict[str, str]:
    """Return the colour of each component of the rating.

    Examples
    --------
    >>> sorted(component_colours("light")) == sorted(component_colours("dark"))
    True
    """
    return _COMPONENTS[theme]


_REPEATS: Final[dict[Theme, tuple[str, ...]]] = {
    # Neighbours differ in lightness, and none is near the mean, the model or an alert.
    "light": ("#1f77a8", "#a67c00", "#5b4a9c", "#3b9b74", "#7a5a3c", "#71879a"),
    "dark": ("#6fb7ea", "#e0b84c", "#a99be8", "#62c79b", "#c49a75", "#a3b6c2"),
}


def repeat_colours(theme: Theme) -> tuple[str, ...]:
    """Return the colours that the repeats of a channel take in turn.

    Examples
    --------
    >>> len(repeat_colours("light")) == len(repeat_colours("dark"))
    True
    """
    return _REPEATS[theme]


def palette(theme: Theme) -> Palette:
    """Return the colours of a theme.

    Parameters
    ----------
    theme
        ``light`` or ``dark``.

    Returns
    -------
    Palette

    Examples
    --------
    >>> palette("light").page != palette("dark").page
    True
    """
    return DARK if theme == "dark" else LIGHT
