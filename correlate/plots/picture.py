"""A figure as a picture file that can leave the project: it says what it shows and brings its typeface."""

from __future__ import annotations

from dataclasses import dataclass
from html import escape
from typing import TYPE_CHECKING, Final

from correlate.display import short_repr
from correlate.plots.palette import FONT, LIGHT, font_face
from correlate.plots.svg_figure import WIDTH, figure_svg
from correlate.plots.svg_legend import wrapped
from correlate.plots.svg_marks import text_element
from correlate.version import VERSION

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    import plotly.graph_objects as go

_EDGE: Final = 20.0
"""Between the edge of the picture and its texts, px."""
_LINE: Final = 1.3
"""Distance of lines, in sizes."""
_TITLE, _WORDS, _SOURCE = 21.0, 14.0, 11.0
"""Sizes of letters."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class PictureWords:
    """What a picture says around its figure.

    Attributes
    ----------
    title
        Channel and load case.
    ratings
        One line a release: its rating and grade, and against what. Empty where nothing is rated.
    settings
        Filter and interval.
    campaign
        Its title.
    day
        On which the picture was saved.
    """

    title: str
    ratings: tuple[str, ...]
    settings: str
    campaign: str
    day: date

    @property
    def source(self) -> str:
        """The small line at the foot."""
        parts = (self.campaign, f"correlate {VERSION}", f"saved {self.day.isoformat()}")
        return " · ".join(part for part in parts if part)


def picture_svg(figure: go.Figure, words: PictureWords) -> str:
    """Draw a figure as an SVG file of its own.

    Parameters
    ----------
    figure
        In the light theme, such that :func:`figure_svg` can draw it.
    words
        Above and below the figure.

    Returns
    -------
    str
        A whole file. It holds the typeface, and asks for nothing; long texts go on in a further line.

    Raises
    ------
    SettingsError
        The figure holds something that has no static drawing.
    """
    height = int(figure.layout.height)
    head: list[str] = []
    low = _EDGE
    for text, size, weight, colour in (
        (words.title, _TITLE, 650, LIGHT.ink),
        *((line, _WORDS, 560, LIGHT.ink) for line in words.ratings),
        (words.settings, _WORDS, 400, LIGHT.muted),
    ):
        drawn, low = _lines(text, low, size, weight, colour)
        head += drawn
    top = low + 0.5 * _EDGE
    foot, end = _lines(words.source, top + height, _SOURCE, 400, LIGHT.muted)
    tall = end + 0.6 * _EDGE
    said = "; ".join((words.title, *words.ratings, words.settings))
    drawing = figure_svg(figure, words=said, name="panel").replace(
        "<svg ", f'<svg y="{top:.1f}" width="{WIDTH}" height="{height}" ', 1
    )
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH}" height="{tall:.0f}" '
        f'viewBox="0 0 {WIDTH} {tall:.0f}" font-family="{escape(FONT)}">'
        f"<title>{escape(said)}</title><style>{font_face()}</style>"
        f'<rect width="100%" height="100%" fill="{LIGHT.panel}"/>'
        f"{''.join(head)}{drawing}{''.join(foot)}</svg>"
    )


def _lines(text: str, top: float, size: float, weight: int, colour: str) -> tuple[Sequence[str], float]:
    """Write a text from a height on, in as many lines as it needs; return them and where they end."""
    lines = [line for line in wrapped(text, size, WIDTH - 2 * _EDGE) if line]
    drawn = [
        text_element(
            line, x=_EDGE, y=top + size + place * _LINE * size, size=size, colour=colour, weight=weight
        )
        for place, line in enumerate(lines)
    ]
    return drawn, top + len(lines) * _LINE * size
