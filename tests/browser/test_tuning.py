"""The tuning page as an analyst uses it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from correlate import fit_tuning
from tests.browser.test_pair_page import choose, expect_to_fit

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser


def test_surrogates_are_fitted_and_proposals_exported(working: Page, working_url: str) -> None:
    """Runs are shown; a fit is made in the background; proposals are ticked, sent as a link and exported."""
    working.goto(f"{working_url}/tuning")
    expect(working.locator("h1")).to_have_text("Skin <b> and rubber")
    expect(working.get_by_role("gridcell", name="p000", exact=True)).to_be_visible()
    expect(working.locator("#tuning-all-runs .js-line").first).to_be_attached()
    expect(working.get_by_text("No run is proposed yet.")).to_be_visible()
    working.get_by_role("button", name="Fit surrogates").click()
    expect(working.get_by_text("outcomes were fitted, 8 runs are proposed.")).to_be_visible(timeout=90_000)
    for figure in ("#tuning-predicted", "#tuning-slice"):
        expect(working.locator(f"{figure} .js-line").first).to_be_attached()
    choose(working, "tuning-outcome", "load case/impact")
    expect(working.locator("#tuning-predicted").get_by_text("load case/impact, rated")).to_be_visible()
    choose(working, "tuning-along", "rubber")
    expect(working.locator("#tuning-slice").get_by_text("rubber [kN/m]")).to_be_visible()
    working.get_by_role("checkbox", name="Proposal 2").check()
    expect(working).to_have_url(re.compile(r"outcome=load\+case%2Fimpact&along=rubber&ticked=2"))
    working.reload()
    expect(working.get_by_role("checkbox", name="Proposal 2")).to_be_checked()
    with working.expect_download() as download:
        working.get_by_role("button", name="Export selected as CSV").click()
    lines = Path(download.value.path()).read_text(encoding="utf-8").splitlines()
    assert lines[0] == "point,round,skin,rubber"
    assert lines[1].startswith("p013,1,")
    assert len(lines) == 2
    expect_to_fit(working)


def test_a_curve_follows_its_slider_and_its_link(
    working: Page, working_url: str, working_folder: Path
) -> None:
    """By keyboard: curve, rating and value change, the address follows, and a reload shows the same."""
    fit_tuning(working_folder, runs=1)
    working.goto(f"{working_url}/tuning?case=drop&channel=D0HEAD0000KMACXP")
    card = working.get_by_role("region", name="Emulated curves", exact=True)
    curve = card.locator("#tuning-curve-figure .cartesianlayer .js-line").last
    expect(curve).to_be_attached()
    slider = card.get_by_role("slider", name="skin [MPa]")
    before = str(slider.get_attribute("aria-valuetext"))
    drawn = str(curve.get_attribute("d"))
    predicted = card.locator("#tuning-curve-predicted .changed-overall")
    rating = predicted.inner_text()
    slider.focus()
    # One key and one step: of many, the last ones could come after the value is read.
    working.keyboard.press("Home")
    expect(slider).not_to_have_attribute("aria-valuetext", before)
    expect(curve).not_to_have_attribute("d", drawn)
    expect(predicted).not_to_have_text(rating)
    expect(working).to_have_url(re.compile(r"[?&]at=skin%3A"))
    value = str(slider.get_attribute("aria-valuetext"))
    expect(card.locator(".slider-words", has_text="skin")).to_contain_text(value)
    working.reload()
    expect(card.get_by_role("slider", name="skin [MPa]")).to_have_attribute("aria-valuetext", value)
    card.get_by_role("button", name="Best run").click()
    expect(card.get_by_role("slider", name="skin [MPa]")).to_have_attribute("aria-valuetext", before)
    expect(working).not_to_have_url(re.compile(r"at="))
    choose(working, "tuning-curve-load-case", "impact")
    expect(card.locator("#tuning-curve-figure").get_by_text("[mm]")).to_be_visible()
    moves = working.locator("#tuning-moves-place")
    expect(moves.locator("#tuning-moves-figure").get_by_text("share [1]")).to_be_visible()
    moves.get_by_text("Change over the range").click()
    expect(moves.locator("#tuning-moves-figure").get_by_text("change [mm]")).to_be_visible()
    expect(working).to_have_url(re.compile(r"case=impact&channel=.*moves=change"))
    kept = working.get_by_role("region", name="Predictions against results", exact=True)
    expect(kept.get_by_text("Nothing has been proposed yet.")).to_be_visible()
    expect_to_fit(working)


def test_a_project_without_tuning_says_how_to_begin(quiet: Page) -> None:
    """Nothing is tuned: what to write and what to run."""
    quiet.goto("/tuning")
    expect(quiet.locator("h1")).to_have_text("No tuning in this project yet")
    expect(quiet.get_by_text("correlate tune design")).to_be_visible()
