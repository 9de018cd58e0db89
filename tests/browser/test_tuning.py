"""The tuning page as an analyst uses it."""

from __future__ import annotations

import re
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

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


def test_a_project_without_tuning_says_how_to_begin(quiet: Page) -> None:
    """Nothing is tuned: what to write and what to run."""
    quiet.goto("/tuning")
    expect(quiet.get_by_role("alert")).to_contain_text("No tuning in this project yet")
    expect(quiet.get_by_text("correlate tune design")).to_be_visible()
