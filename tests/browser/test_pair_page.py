"""The pair page as a person uses it."""

from __future__ import annotations

import re
from functools import cache
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from dashboard.pages.pair.analysis import PairAnalysis
from dashboard.selection import Address, selected
from dashboard.state import Project
from tests.browser.conftest import let_in

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Browser, Page, Route

pytestmark = pytest.mark.browser


def rating(folder: Path, address: Address) -> str:
    """Return what the core gives for an address, as the page writes it."""
    project = _project(folder)
    campaign = project.campaign()
    selection = selected(campaign, address)
    return f"{PairAnalysis(project).rated(campaign, selection).rating.overall:.3f}"


@cache
def _project(folder: Path) -> Project:
    return Project(folder)


def choose(page: Page, menu: str, words: str) -> None:
    """Pick an entry of a menu."""
    page.locator(f"#{menu}").click()
    page.get_by_role("option", name=words, exact=True).click()


def fill(page: Page, field: str, number: str) -> None:
    """Write a number into a field and leave it."""
    page.locator(f"#{field}").fill(number)
    page.locator(f"#{field}").press("Tab")


def expect_to_fit(page: Page) -> None:
    """Check on a usual screen, a small one and a telephone that nothing is wider than the window."""
    for width in (1440, 1024, 390):
        page.set_viewport_size({"width": width, "height": 844})
        expect(page.locator("html")).to_have_js_property("scrollWidth", width)


def test_the_newest_pair_is_shown(quiet: Page, folder: Path) -> None:
    """Mean rating, grade, curves and files are there, on any screen; a repeat is one click away."""
    quiet.goto("/pair")
    expect(quiet.locator(".overall")).to_have_text(rating(folder, Address(release="A2")))
    expect(quiet.locator(".grade")).to_have_text("excellent")
    expect(quiet.locator(".js-line").first).to_be_attached()
    expect(quiet.get_by_text("laboratory/drop/D01.csv", exact=True)).to_be_visible()
    expect(quiet).to_have_title(re.compile(r"0\.956 excellent · Head acceleration X"))
    expect_to_fit(quiet)
    quiet.locator(".details-card").get_by_role("link", name="D02").click()
    expect(quiet.locator(".overall")).to_have_text(rating(folder, Address(release="A2", repeat="D02")))
    expect(quiet).to_have_url(re.compile(r"repeat=D02"))


def test_the_curves_are_in_sight_with_any_number_of_overlays(quiet: Page) -> None:
    """At both usual sizes the figure is inside the window before anything is scrolled; the table follows."""
    for query, overlays in (("?release=A2", 0), ("?release=A2&against=A1", 1)):
        quiet.goto(f"/pair{query}")
        expect(quiet.locator("#pair-scatter .why")).to_be_visible()
        expect(quiet.locator("#figure .legendtext", has_text="model A1")).to_have_count(overlays)
        for width, height in ((1440, 900), (1024, 768)):
            quiet.set_viewport_size({"width": width, "height": height})
            box, table = (
                quiet.locator("#figure").bounding_box(),
                quiet.locator(".details-card").bounding_box(),
            )
            assert box
            assert box["y"] >= 0
            assert box["y"] + box["height"] <= height
            assert box["height"] >= 300
            assert table
            assert table["y"] >= box["y"] + box["height"]
    expect(quiet.locator(".releases-card tbody tr")).to_have_count(2)


def test_on_a_telephone_the_menus_fold_away(quiet: Page) -> None:
    """A button shows them; the figure is no larger than the screen."""
    quiet.set_viewport_size({"width": 390, "height": 844})
    quiet.goto("/pair")
    box = quiet.locator("#figure .main-svg").first.bounding_box()
    assert box
    assert box["width"] <= 390
    assert box["height"] <= 844
    button = quiet.get_by_role("button", name="Change selection")
    expect(quiet.locator("#channel")).to_be_hidden()
    button.click()
    expect(button).to_have_attribute("aria-expanded", "true")
    choose(quiet, "channel", "Head acceleration Z")
    expect(quiet.locator("h1")).to_have_text("Head acceleration Z")
    button.click()
    expect(quiet.locator("#channel")).to_be_hidden()


def test_scatter_explains_a_rating_with_one_click(quiet: Page, browser: Browser, base_url: str) -> None:
    """From the pair to its repeats; the link, opened in another browser, shows the same."""
    quiet.goto("/pair?release=A1&against=A2&channel=D0HEAD0000KMACZP")
    quiet.get_by_role("link", name="Show the repeats").click()
    expect(quiet).to_have_url(
        re.compile(r"/repeats\?release=A1&against=A2&case=drop&channel=D0HEAD0000KMACZP$")
    )
    expect(quiet.locator("h1")).to_have_text("Head acceleration Z")
    expect(quiet.get_by_text("rating against the others")).to_be_visible()
    quiet.go_back()
    expect(quiet.locator("#figure .legendtext", has_text="model A2")).to_be_visible()
    expect(quiet.locator("#pair-scatter .why")).to_be_visible()
    other = let_in(browser.new_context(base_url=base_url)).new_page()
    other.goto(quiet.url)
    for part in ("h1", ".overall", ".releases-card tbody", "#pair-scatter"):
        expect(other.locator(part)).to_have_text(quiet.locator(part).text_content() or "nothing")
    other.context.close()


def test_another_channel_and_release_change_the_rating(quiet: Page, folder: Path) -> None:
    """Number, word, heading and address follow what is picked, at one call to the server a pick."""
    quiet.goto("/pair")
    expect(quiet.locator(".overall")).to_have_text(rating(folder, Address()))
    calls: list[str] = []
    quiet.on("request", lambda request: calls.append(request.post_data or ""))
    choose(quiet, "channel", "Head acceleration Z")
    expect(quiet.locator(".overall")).to_have_text(rating(folder, Address(channel="D0HEAD0000KMACZP")))
    expect(quiet.locator("h1")).to_have_text("Head acceleration Z")
    choose(quiet, "release", "A1 · First guess")
    both = Address(channel="D0HEAD0000KMACZP", release="A1")
    expect(quiet.locator(".overall")).to_have_text(rating(folder, both))
    expect(quiet).to_have_url(re.compile(r"\?release=A1&case=drop&channel=D0HEAD0000KMACZP$"))
    assert len([call for call in calls if call.startswith('{"output":"..pair-address.search')]) == 2


def test_filter_and_interval_change_the_rating(quiet: Page, folder: Path) -> None:
    """The rating follows the filter and both ends of the interval, and a link leads back."""
    quiet.goto("/pair?release=A2")
    expect(quiet.locator(".overall")).to_have_text(rating(folder, Address(release="A2")))
    choose(quiet, "cfc", "CFC 60")
    expect(quiet.get_by_text("Differs from the campaign.")).to_be_visible()
    fill(quiet, "interval-from", "8")
    expect(quiet).to_have_url(re.compile(r"&cfc=60&from=8$"))
    fill(quiet, "interval-to", "14")
    changed = Address(release="A2", cfc="60", start_ms="8", end_ms="14")
    assert rating(folder, changed) != rating(folder, Address(release="A2"))
    expect(quiet.locator(".overall")).to_have_text(rating(folder, changed))
    expect(quiet.get_by_text("8 ms to 14 ms", exact=True)).to_be_visible()
    quiet.get_by_role("link", name="Back to CFC 1000, 0 to 40 ms").click()
    expect(quiet.locator(".overall")).to_have_text(rating(folder, Address(release="A2")))
    expect(quiet.locator("#interval-to")).to_have_value("40")


def test_a_shared_link_shows_the_same(quiet: Page, folder: Path) -> None:
    """Menus, fields and rating are those of the link; angle brackets in names stay angle brackets."""
    quiet.goto("/pair?release=A2&case=impact&repeat=I02&channel=D0LUSP0000KMFOZP&cfc=60&from=2&to=30")
    address = Address(
        release="A2",
        case="impact",
        repeat="I02",
        channel="D0LUSP0000KMFOZP",
        cfc="60",
        start_ms="2",
        end_ms="30",
    )
    expect(quiet.locator(".overall")).to_have_text(rating(folder, address))
    expect(quiet.locator("#release")).to_have_value("A2")
    expect(quiet.locator("#load-case")).to_have_value("Impact with a probe")
    expect(quiet.locator("#repeat")).to_have_value("2 · I02")
    expect(quiet.locator("#channel")).to_have_value("Lumbar force Z <b>")
    expect(quiet.locator("#cfc")).to_have_value("CFC 60")
    expect(quiet.locator("#interval-from")).to_have_value("2")
    expect(quiet.locator("h1")).to_have_text("Lumbar force Z <b>")
    expect(quiet.locator("#campaign")).to_contain_text("Small <campaign>")
    expect(quiet.locator("#interval-to")).to_have_value("30")


def test_back_and_forward_work(quiet: Page, folder: Path) -> None:
    """The buttons of the browser lead through what was picked."""
    quiet.goto("/pair?release=A1")
    first, second = rating(folder, Address(release="A1")), rating(folder, Address(release="A2"))
    expect(quiet.locator(".overall")).to_have_text(first)
    choose(quiet, "release", "A2")
    expect(quiet.locator(".overall")).to_have_text(second)
    quiet.go_back()
    expect(quiet.locator(".overall")).to_have_text(first)
    expect(quiet.locator("#release")).to_have_value("A1 · First guess")
    quiet.go_forward()
    expect(quiet.locator(".overall")).to_have_text(second)


def test_a_bad_interval_is_answered(quiet: Page, folder: Path) -> None:
    """An end before the start gives the sentence of the core, on any screen; the page stays in use."""
    quiet.goto("/pair")
    expect(quiet.locator(".overall")).to_have_text(rating(folder, Address()))
    fill(quiet, "interval-from", "50")
    expect(quiet.get_by_role("alert")).to_contain_text("0.05 s to 0.04 s is not an interval")
    expect(quiet.locator(".overall")).to_be_hidden()
    expect_to_fit(quiet)
    quiet.set_viewport_size({"width": 1440, "height": 900})
    fill(quiet, "interval-from", "5")
    expect(quiet.locator(".overall")).to_have_text(rating(folder, Address(start_ms="5")))
    expect(quiet.get_by_role("alert")).to_have_count(0)


def test_a_filter_that_the_sample_rate_forbids_is_answered(quiet: Page) -> None:
    """The sentence names the file, and the link leads back to the campaign's filter."""
    quiet.goto("/pair?case=impact")
    choose(quiet, "cfc", "CFC 1000")
    expect(quiet.get_by_role("alert")).to_contain_text("too few for CFC 1000")
    quiet.get_by_role("alert").get_by_role("link").click()
    expect(quiet.locator(".overall")).to_be_visible()
    expect(quiet.locator("#cfc")).to_have_value("CFC 180 · as in campaign")


def test_the_page_follows_the_system_and_the_switch(quiet: Page) -> None:
    """Dark as the system is, light when chosen, and still light after loading again."""
    root = quiet.locator("html")
    background = quiet.locator("#figure .main-svg").first
    quiet.emulate_media(color_scheme="dark")
    quiet.goto("/pair")
    expect(root).to_have_attribute("data-mantine-color-scheme", "dark")
    expect(background).to_have_css("background-color", "rgb(20, 33, 40)")
    quiet.get_by_text("Light", exact=True).click()
    expect(root).to_have_attribute("data-mantine-color-scheme", "light")
    expect(background).to_have_css("background-color", "rgb(253, 254, 254)")
    quiet.reload()
    expect(background).to_have_css("background-color", "rgb(253, 254, 254)")
    quiet.get_by_text("Auto", exact=True).click()
    expect(background).to_have_css("background-color", "rgb(20, 33, 40)")
    quiet.emulate_media(color_scheme="light")
    expect(background).to_have_css("background-color", "rgb(253, 254, 254)")


def test_the_keyboard_is_enough(quiet: Page, folder: Path) -> None:
    """The first Tab reaches the way to the content; a menu opens and picks with arrow keys and Enter."""
    quiet.goto("/pair")
    expect(quiet.locator(".overall")).to_have_text(rating(folder, Address()))
    quiet.keyboard.press("Tab")
    expect(quiet.get_by_role("link", name="Skip to the content")).to_be_focused()
    quiet.locator("#release").focus()
    quiet.keyboard.press("ArrowDown")
    expect(quiet.get_by_role("option", name="A1")).to_be_visible()
    quiet.keyboard.press("ArrowUp")
    quiet.keyboard.press("Enter")
    expect(quiet.locator(".overall")).to_have_text(rating(folder, Address(release="A1")))


def test_waiting_is_shown(quiet: Page) -> None:
    """While the server works the page shows the shape of what comes, and then the rating."""
    held: list[Route] = []

    def hold(route: Route) -> None:
        """Keep what rates the pair; what shows the empty page goes through."""
        if "pair-address.search" in (route.request.post_data or ""):
            held.append(route)
        else:
            route.continue_()

    quiet.route("**/_dash-update-component?*", hold)
    quiet.goto("/pair")
    expect(quiet.get_by_text("Rating the pair")).to_be_visible()
    for kept in held:
        kept.continue_()
    quiet.unroute_all()
    expect(quiet.locator(".overall")).to_be_visible()
    expect(quiet.get_by_text("Rating the pair")).to_be_hidden()
