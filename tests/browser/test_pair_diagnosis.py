"""The pair page as an analyst works with it: what if, zoom, reasons, and what is handed out."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from correlate import CurveChange, read
from dashboard.pages.pair.analysis import PairAnalysis
from dashboard.selection import Address, selected
from dashboard.state import Project
from tests.browser.test_pair_page import expect_to_fit, rating

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page

pytestmark = pytest.mark.browser


def changed_rating(folder: Path, change: CurveChange) -> str:
    """Return what the core gives for the first pair after a change, as the page writes it."""
    analysis = PairAnalysis(Project(folder))
    campaign = analysis.project.campaign()
    rated = analysis.rated(campaign, selected(campaign, Address(release="A1")))
    return f"{rated.changed(change).overall:.3f}"


def zoom(page: Page) -> None:
    """Drag over a part of the curves."""
    page.locator("#figure").scroll_into_view_if_needed()
    box = page.locator("#figure .nsewdrag").first.bounding_box()
    assert box
    page.mouse.move(box["x"] + 100, box["y"] + 40)
    page.mouse.down()
    page.mouse.move(box["x"] + 300, box["y"] + 44, steps=4)
    page.mouse.up()


def test_a_slider_moves_rating_curve_and_link(quiet: Page, folder: Path) -> None:
    """Words follow a drag before its end, the link after it; keys do the same; Back undoes it."""
    quiet.goto("/pair?release=A1")
    overall = quiet.locator(".changed-overall")
    expect(overall).to_have_text(rating(folder, Address(release="A1")))
    thumb = quiet.get_by_role("slider", name="Scale of the model")
    thumb.scroll_into_view_if_needed()
    box = thumb.bounding_box()
    assert box
    quiet.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    quiet.mouse.down()
    quiet.mouse.move(box["x"] + 2000, box["y"], steps=3)
    expect(overall).to_have_text(changed_rating(folder, CurveChange(scale=1.5)))
    assert "scale" not in quiet.url
    quiet.mouse.up()
    expect(quiet).to_have_url(re.compile(r"&scale=1.5$"))
    expect(quiet.locator("#figure .legendtext", has_text="model, changed")).to_be_visible()
    expect(quiet.locator(".overall")).to_have_text(rating(folder, Address(release="A1")))
    quiet.keyboard.press("Home")
    expect(overall).to_have_text(changed_rating(folder, CurveChange(scale=0.5)))
    expect(quiet).to_have_url(re.compile(r"&scale=0.5$"))
    quiet.go_back()
    expect(overall).to_have_text(changed_rating(folder, CurveChange(scale=1.5)))


def test_a_zoom_is_in_the_link_and_can_be_left(quiet: Page, folder: Path) -> None:
    """Dragging over the curves zooms both panels, and a link leads back to all of it."""
    quiet.goto("/pair?release=A1")
    expect(quiet.locator(".overall")).to_have_text(rating(folder, Address(release="A1")))
    expect(quiet.locator(".js-line").first).to_be_attached()
    zoom(quiet)
    expect(quiet).to_have_url(re.compile(r"\?release=A1&left=[\d.]+&right=[\d.]+$"))
    expect(quiet.locator("#pair-window")).to_contain_text("Zoomed to")
    quiet.get_by_role("link", name="Show all").click()
    expect(quiet.locator("#pair-window")).to_contain_text("Drag to zoom")


def test_reasons_overlays_and_data_are_there(quiet: Page, tmp_path: Path) -> None:
    """Reasons come after the curves; overlays are listed; the data of both releases can be taken away."""
    quiet.goto("/pair?release=A1&over=A2&show=links&show=repeats")
    expect(quiet.get_by_role("heading", name=re.compile("points are lost"))).to_be_visible()
    expect(quiet.get_by_role("heading", name="Suspected data-handling errors")).to_be_visible()
    expect(quiet.locator(".releases-card tbody tr")).to_have_count(2)
    expect(quiet.locator("#figure .legendtext", has_text="matched by warping")).to_be_visible()
    expect_to_fit(quiet)
    with quiet.expect_download() as data:
        quiet.get_by_role("button", name="Save data").click()
    data.value.save_as(tmp_path / "curves.csv")
    names = ("test D01", "test D02", "model A1", "model A2")
    assert read(tmp_path / "curves.csv").channel_names == names
