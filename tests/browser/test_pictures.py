"""Pictures as a person saves them, and as the browser measures them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.plots.test_picture import LONG, picture, texts

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page

pytestmark = pytest.mark.browser


def save(page: Page, menu: str, words: str) -> tuple[str, Path]:
    """Choose a format in the menu of a page; return the name and the place of what was saved."""
    page.locator(f"#{menu} summary").click()
    with page.expect_download() as saved:
        page.get_by_role("button", name=words).click()
    expect(page.locator(f"#{menu}")).not_to_have_attribute("open", "")
    return saved.value.suggested_filename, saved.value.path()


def test_a_pair_is_saved_as_drawing_and_in_pixels(quiet: Page) -> None:
    """Both files carry the name of the pair; the drawing says rating, filter and interval; Escape closes."""
    quiet.emulate_media(color_scheme="dark")
    quiet.goto("/pair?release=A2&over=A1")
    overall = quiet.locator(".overall").inner_text()
    quiet.locator("#pair-picture-menu summary").press("Enter")
    expect(quiet.get_by_role("button", name="SVG")).to_be_visible()
    quiet.locator("#pair-picture-menu summary").press("Escape")
    expect(quiet.get_by_role("button", name="SVG")).to_be_hidden()

    name, drawing = save(quiet, "pair-picture-menu", "SVG")
    assert name == "drop-D0HEAD0000KMACXP-D01-A2-A1.svg"
    found = texts(drawing.read_text(encoding="utf-8"))
    assert any(line.startswith(f"A2: {overall} ") for line in found)
    assert "CFC 1000 · rated 0 ms to 40 ms" in found

    name, pixels = save(quiet, "pair-picture-menu", "PNG")
    assert name == "drop-D0HEAD0000KMACXP-D01-A2-A1.png"
    content = pixels.read_bytes()
    assert content.startswith(b"\x89PNG")
    assert int.from_bytes(content[16:20]) == 2 * 920
    expect(quiet.get_by_text(f"{name} saved.")).to_be_visible()
    quiet.emulate_media(color_scheme="light")


def test_no_text_leaves_the_picture(page: Page) -> None:
    """Measured with the real letters, every text is inside of the picture and of its panel."""
    long = picture(title=LONG * 3, ratings=(f"{LONG}: 0.612 fair",) * 3, settings=LONG, campaign=LONG * 4)
    page.set_content(long)
    page.evaluate("document.fonts.load('16px Archivo')")
    outside = page.evaluate(
        """() => [...document.querySelectorAll("text")].filter((one) => {
            const own = one.getBoundingClientRect();
            const panel = one.ownerSVGElement;
            const all = panel.createSVGPoint().matrixTransform(panel.getScreenCTM());
            const { width, height } = panel.viewBox.baseVal;
            const across = own.left < all.x || own.right > all.x + width;
            return across || own.top < all.y || own.bottom > all.y + height;
        }).map((one) => one.textContent)"""
    )
    assert page.evaluate("document.fonts.check('16px Archivo')")
    assert outside == []
