"""What axe-core finds on a page, in both themes and on three screens."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any, Final

from axe_playwright_python.base import AXE_SCRIPT

from dashboard.theme import SCHEME_ATTRIBUTE

if TYPE_CHECKING:
    from collections.abc import Iterable

    from playwright.sync_api import Page

SIZES: Final = ((1440, 900), (1024, 768), (390, 844))

_FOUND: Final = """
rules => axe.run(document, { resultTypes: ["violations"], ...rules }).then(found => found.violations
  .filter(one => one.impact !== "minor")
  .flatMap(one => one.nodes.map(part => `${one.impact} ${one.id}: ${part.target} ${part.html.slice(0, 99)}`)))
"""


def findings(page: Page, sizes: Iterable[tuple[int, int]] = SIZES) -> list[str]:
    """Return everything of moderate impact or higher; a theme changes colours alone, a size the rest too."""
    page.evaluate(AXE_SCRIPT)
    themes: dict[str, dict[str, Any]] = {"light": {}, "dark": {"runOnly": ["color-contrast"]}}
    found = []
    for theme, rules in themes.items():
        # A colour on its way to the next one is neither.
        page.emulate_media(color_scheme=theme, reduced_motion="reduce")  # type: ignore[arg-type]
        # What the page does itself sooner or later, the pages of accounts when they are opened.
        page.evaluate(f"document.documentElement.setAttribute('{SCHEME_ATTRIBUTE}', '{theme}')")
        for width, height in sizes:
            page.set_viewport_size({"width": width, "height": height})
            found += [f"{theme} {width}: {one}" for one in page.evaluate(_FOUND, rules)]
    return sorted(set(found))
