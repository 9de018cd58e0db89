"""Pictures as a person saves them, and as the browser measures them."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect
from pypdf import PdfReader

from correlate.plots import CAUTION
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
    quiet.goto("/pair?release=A2&repeat=D01&over=A1")
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


def test_a_pair_is_printed_on_one_light_page(quiet: Page, tmp_path: Path) -> None:
    """Heading, rating, overlays, curves, reasons, files and caution; the figure on the screen stays dark."""
    quiet.emulate_media(color_scheme="dark")
    quiet.goto("/pair?release=A2&over=A1")
    overall = quiet.locator(".overall").inner_text()
    expect(quiet.locator(".reason-lost")).to_be_visible()
    expect(quiet.locator("#figure .js-line").first).to_be_attached()
    quiet.evaluate("window.dispatchEvent(new Event('beforeprint'))")
    ground = quiet.locator(".paper-figure .main-svg").first.evaluate("(one) => one.style.background")
    assert ground == "rgb(253, 254, 254)"
    quiet.evaluate("window.dispatchEvent(new Event('afterprint'))")

    quiet.pdf(path=tmp_path / "pair.pdf", prefer_css_page_size=True)
    (sheet,) = PdfReader(tmp_path / "pair.pdf").pages
    assert sheet.mediabox.height > sheet.mediabox.width
    words = " ".join(sheet.extract_text().split())
    for expected in ("Head acceleration X", overall, "model A2", "Releases drawn together", "CFC 1000"):
        assert expected in words
    assert "points are lost" in words
    assert "laboratory/drop/D01.csv" in words
    assert " ".join(CAUTION.split()) in words
    assert "rated 0 ms to 40 ms" in words  # the axis of the figure

    expect(quiet.locator(".paper-figure")).to_have_count(0)
    expect(quiet.locator("#figure .main-svg").first).to_have_css("background-color", "rgb(20, 33, 40)")
    quiet.emulate_media(color_scheme="light")
