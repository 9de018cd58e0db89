"""How far the pages of a print are filled."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

if TYPE_CHECKING:
    from pypdf import PageObject

_MM: Final = 72 / 25.4
_TOP: Final = (297 - 14) * _MM
_BOTTOM: Final = 16 * _MM
"""Edges of the text of a page, as the style sheet sets them; below it stands the running line."""


def read_page(page: PageObject) -> tuple[str, float]:
    """Return the text of a page, and the share of its height from the top down to the lowest text."""
    heights: list[float] = []

    def visit(text: str, matrix: list[float], place: list[float], *_: Any) -> None:
        height = place[4] * matrix[1] + place[5] * matrix[3] + matrix[5]
        if text.strip() and height > _BOTTOM:
            heights.append(height)

    text = " ".join(page.extract_text(visitor_text=visit).split())
    return text, (_TOP - min(heights)) / (_TOP - _BOTTOM)
