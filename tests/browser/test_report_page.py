"""The page of a report, opened from disk."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from correlate import load_campaign
from correlate.report.html import pair_html
from correlate.report.ratings_page import ratings_html
from dashboard.state import Project
from tests.plots.scores import late_model
from tests.report.test_ratings_page import rated_pairs

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page

pytestmark = pytest.mark.browser


def test_a_report_draws_its_figure_and_asks_nobody(page: Page, tmp_path: Path) -> None:
    """The file alone shows rating and curves under its own content policy, without a single request."""
    file = tmp_path / "pair.html"
    file.write_text(pair_html(late_model(), title="Head drop"), encoding="utf-8")
    asked: list[str] = []
    complaints: list[str] = []
    page.on("request", lambda request: asked.append(request.url))
    page.on("console", lambda message: complaints.append(message.text))
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.goto(file.as_uri())
    expect(page.locator(".js-line").first).to_be_visible()
    expect(page.get_by_text("model 1.2 ms late")).to_be_visible()
    assert [address for address in asked if not address.startswith("data:")] == [file.as_uri()]
    assert complaints == []


def test_the_ratings_of_a_release_sort_and_collapse(page: Page, tmp_path: Path, folder: Path) -> None:
    """By click and by keyboard, marked for who listens; a link expands its load case."""
    file = tmp_path / "ratings.html"
    campaign = load_campaign(folder)
    stored = Project(folder).board(campaign, release="A2")
    board = stored.board
    written = ratings_html(stored, rated_pairs(campaign, "A2"), title="Small")
    file.write_text(written, encoding="utf-8")
    complaints: list[str] = []
    page.on("console", lambda message: complaints.append(message.text))
    page.goto(file.as_uri())
    table = page.locator("table.channels")
    column = table.locator("tbody tr td:nth-child(3)")
    heading = table.get_by_role("columnheader", name="Rating")
    table.get_by_role("button", name="Rating").click()
    expect(heading).to_have_attribute("aria-sort", "ascending")
    ascending = column.all_inner_texts()
    known = [text for text in ascending if text != "–"]
    assert known == sorted(known)
    assert ascending[len(known) :] == ["–"] * (len(ascending) - len(known))
    table.get_by_role("button", name="Rating").press("Enter")
    expect(heading).to_have_attribute("aria-sort", "descending")
    assert column.all_inner_texts()[: len(known)] == known[::-1]

    expect(page.locator("details.case[open]")).to_have_count(0)
    table.locator("tbody a").first.click()
    expect(page.locator("details.case[open] .channel:target")).to_be_visible()
    page.get_by_role("button", name="Expand all").click()
    expect(page.locator("details.case[open]")).to_have_count(len([*board.load_cases, *board.held_out_cases]))
    page.get_by_role("button", name="Collapse all", exact=True).click()
    expect(page.locator("details.case[open]")).to_have_count(0)
    assert complaints == []
