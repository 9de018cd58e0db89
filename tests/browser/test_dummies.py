"""The dummies page as a laboratory uses it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.test_keyboard import reach
from tests.browser.test_pair_page import choose, expect_to_fit
from tests.dashboard.dummies_project import DAY

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser

PEAK = "peak of the pelvis acceleration [g]"
TIME = "time of the peak of the pelvis acceleration"


def opened(page: Page, address: str, query: str = "") -> None:
    """Open the page on the day of the tests."""
    page.goto(f"{address}/dummies?day={DAY}{query}")


def test_a_dummy_is_chosen_and_its_chart_is_drawn(registered: Page, register_url: str) -> None:
    """The overdue dummy is first and has no result; the other one drifts; everything fits on any screen."""
    opened(registered, register_url)
    expect(registered.locator("h1")).to_have_text("Overdue: 1 of 2 dummies")
    expect(registered.get_by_text("No result of KM-W-003 is saved yet")).to_be_visible()
    expect(registered.locator("#dummies-figure")).to_be_hidden()
    expect(registered.locator("#dummies-quantity")).to_be_hidden()
    registered.get_by_role("link", name="KM-W-002").click()
    expect(registered).to_have_url(re.compile(r"dummy=KM-W-002"))
    expect(registered.locator("#dummies-title")).to_have_text("KM-W-002")
    expect(registered.locator("#dummies-figure").get_by_text(PEAK)).to_be_visible()
    expect(registered.locator("#dummies-figure .js-line").first).to_be_attached()
    expect(registered.locator("#dummies-figure").get_by_text("rib set")).to_be_visible()
    expect(registered.locator(".remark", has_text="Drift per year: +7")).to_be_visible()
    expect(registered).to_have_title(re.compile("^KM-W-002: alarm of the control chart, drift"))
    expect_to_fit(registered)


def test_a_quantity_is_picked_and_can_be_sent_as_a_link(registered: Page, register_url: str) -> None:
    """The address alone brings it again; Back returns to the first."""
    opened(registered, register_url, "&dummy=KM-W-002")
    figure = registered.locator("#dummies-figure")
    expect(figure.get_by_text(PEAK)).to_be_visible()
    choose(registered, "dummies-quantity", TIME)
    expect(figure.get_by_text("acceleration [ms]")).to_be_visible()
    expect(registered).to_have_url(re.compile(r"quantity=.*pelvis_peak_time_ms"))
    registered.reload()
    expect(figure.get_by_text("acceleration [ms]")).to_be_visible()
    expect(registered.locator("#dummies-quantity")).to_have_value(TIME)
    registered.go_back()
    expect(figure.get_by_text(PEAK)).to_be_visible()


def test_a_result_is_opened_and_closed(registered: Page, register_url: str) -> None:
    """Its quantities stand in sight at the top of the page; closing keeps the dummy."""
    opened(registered, register_url, "&dummy=KM-W-002")
    registered.get_by_role("row", name=re.compile("2025-11-15")).get_by_role("link", name="Details").click()
    details = registered.locator("#dummies-result")
    expect(details.get_by_role("heading")).to_have_text("KM-W-002: pelvis push, 2025-11-15")
    expect(details).to_be_in_viewport()
    expect(details.get_by_role("row", name=re.compile("^Peak of the pelvis"))).to_contain_text("inside")
    details.get_by_role("link", name="Close").click()
    expect(details).to_be_hidden()
    expect(registered).to_have_url(re.compile(r"dummy=KM-W-002"))


def test_everything_is_reached_by_keyboard(registered: Page, register_url: str) -> None:
    """From the row of a dummy to its quantity and to the details of its newest result."""
    opened(registered, register_url)
    reach(registered, registered.get_by_role("link", name="KM-W-002"))
    registered.keyboard.press("Enter")
    expect(registered.locator("#dummies-title")).to_have_text("KM-W-002")
    reach(registered, registered.locator("#dummies-quantity"))
    for key in ("ArrowDown", "ArrowDown", "Enter"):
        registered.keyboard.press(key)
    expect(registered).to_have_url(re.compile(r"quantity="))
    reach(registered, registered.get_by_role("link", name="Details").first)
    registered.keyboard.press("Enter")
    expect(registered.locator("#dummies-result")).to_be_visible()


def test_a_project_without_a_register_says_what_to_do(quiet: Page) -> None:
    """One heading, the file and the command."""
    quiet.goto("/dummies")
    expect(quiet.locator("h1")).to_have_text("No register of dummies yet")
    expect(quiet.get_by_text("laboratory.toml").first).to_be_visible()
    expect_to_fit(quiet)
