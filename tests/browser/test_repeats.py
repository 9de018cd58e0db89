"""The repeats page as a laboratory uses it."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.test_pair_page import choose, expect_to_fit

if TYPE_CHECKING:
    from playwright.sync_api import Page

pytestmark = pytest.mark.browser


def test_repeats_cross_plot_and_check_are_shown(quiet: Page) -> None:
    """Curves, cross-plot, numbers and the result of the check are there, on any screen."""
    quiet.goto("/repeats")
    expect(quiet.locator("h1")).to_have_text("Head acceleration X")
    for figure in ("#repeats-figure", "#repeats-cross-figure"):
        expect(quiet.locator(f"{figure} .js-line").first).to_be_attached()
    expect(quiet.get_by_text("Coefficient of variation of the peak")).to_be_visible()
    expect(quiet.get_by_role("heading", name="Data check")).to_be_visible()
    expect_to_fit(quiet)


def test_windows_are_picked_and_can_be_sent_as_a_link(quiet: Page) -> None:
    """Picked windows give a table; the address alone brings it again; Back takes it away."""
    quiet.goto("/repeats?case=impact")
    expect(quiet.get_by_text("Select the windows")).to_be_visible()
    choose(quiet, "repeats-window", "knee impact, 2.1 m/s (6.9 ft/s), 5 kg probe")
    expect(quiet.get_by_text("0 of 2 repeats are inside every window")).to_be_visible()
    expect(quiet).to_have_url(re.compile(r"case=impact.*&windows=adult"))
    quiet.reload()
    expect(quiet.get_by_text("0 of 2 repeats are inside every window")).to_be_visible()
    quiet.go_back()
    expect(quiet.get_by_text("Select the windows")).to_be_visible()


def test_another_channel_and_width_change_both_figures(quiet: Page) -> None:
    """The corridor is drawn as wide as picked, in curves and cross-plot; the heading follows the channel."""
    quiet.goto("/repeats")
    expect(quiet.locator("#repeats-cross-figure").get_by_text("± 1 SD along the arc")).to_be_visible()
    choose(quiet, "repeats-width", "± 2 SD")
    expect(quiet.locator("#repeats-figure").get_by_text("mean ± 2 SD")).to_be_visible()
    expect(quiet.locator("#repeats-cross-figure").get_by_text("± 2 SD along the arc")).to_be_visible()
    choose(quiet, "repeats-channel", "Head acceleration Z")
    expect(quiet.locator("h1")).to_have_text("Head acceleration Z")
    expect(quiet.locator("#repeats-across")).to_have_value("Head acceleration X")
    choose(quiet, "repeats-across", "No cross-plot")
    expect(quiet.get_by_text("No second channel is selected")).to_be_visible()
    expect(quiet.locator("#repeats-cross-figure")).to_have_count(0)


def test_a_repeat_is_highlighted_by_its_row_and_left_out_by_the_menu(quiet: Page) -> None:
    """The row is reached by keyboard; the address says what is shown and keeps what it does not know."""
    quiet.goto("/repeats?release=A2&mail=9")
    row = quiet.get_by_role("row", name=re.compile("^1 · D01"))
    row.get_by_role("link").focus()
    quiet.keyboard.press("Enter")
    expect(row).to_have_class(re.compile("is-picked"))
    expect(quiet).to_have_url(re.compile(r"repeat=D01&release=A2&mail=9$"))
    quiet.locator(".mantine-Pill-root", has_text="D02").get_by_role("button", include_hidden=True).click()
    expect(quiet).to_have_url(re.compile(r"shown=D01&.*mail=9$"))
    expect(quiet.get_by_role("row", name=re.compile("^2 · D02")).get_by_text("not drawn")).to_be_visible()
