"""Long lists in parts, with the keyboard: a page stays where it is, its address says what is shown."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from tests.browser.conftest import _served, heard
from tests.browser.test_pair_page import choose
from tests.dashboard.board_project import write_board_project
from tests.dashboard.dummies_project import write_register
from tests.dashboard.project import write_project
from tests.laboratory.books import REGISTER

if TYPE_CHECKING:
    from collections.abc import Iterator

    from playwright.sync_api import BrowserContext, Page

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def wide_url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a project with more channels than one part of a list has."""
    folder = tmp_path_factory.mktemp("wide")
    yield from _served(write_board_project(folder, releases=2, load_cases=4, channels=60, repeats=2))


@pytest.fixture
def wide(shared: BrowserContext, wide_url: str) -> Iterator[Page]:
    """Return a page of that server, which must not complain."""
    with heard(shared.new_page(), wide_url) as page:
        yield page


def test_the_parts_of_the_matrix_are_reached_by_keyboard(wide: Page, wide_url: str) -> None:
    """Enter on a link shows the other rows; the way back shows the first ones again."""
    wide.goto(f"{wide_url}/matrix?sort=name")
    pages = wide.locator("#matrix-pages")
    expect(pages).to_contain_text("Channels 1–50 of 60")
    pages.get_by_role("link", name="Next").press("Enter")
    expect(pages).to_contain_text("Channels 51–60 of 60")
    expect(wide).to_have_url(re.compile(r"sort=name&page=2$"))
    wide.go_back()
    expect(pages).to_contain_text("Channels 1–50 of 60")


def test_the_keyboard_stays_at_the_links_at_the_end_of_a_list(wide: Page, wide_url: str) -> None:
    """Where "Next" becomes plain text, the link before it has the focus; the same at the beginning."""
    wide.goto(f"{wide_url}/matrix?sort=name")
    pages = wide.locator("#matrix-pages")
    pages.get_by_role("link", name="Next").press("Enter")
    expect(pages).to_contain_text("Channels 51–60 of 60")
    expect(pages.get_by_role("link", name="Previous")).to_be_focused()
    wide.keyboard.press("Enter")
    expect(pages).to_contain_text("Channels 1–50 of 60")
    expect(pages.get_by_role("link", name="Next")).to_be_focused()


@pytest.fixture(scope="module")
def cases_url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a project with more load cases and dummies than one part of a list has."""
    folder = tmp_path_factory.mktemp("cases")
    write_board_project(folder, releases=2, load_cases=45, channels=4, repeats=2)
    dummies = "\n".join(f'[[dummy]]\nserial = "KM-{at}"\ntype = "KELP-M"' for at in range(60))
    write_register(folder, text=f"{REGISTER}\n{dummies}")
    yield from _served(folder)


@pytest.fixture
def cases(shared: BrowserContext, cases_url: str) -> Iterator[Page]:
    """Return a page of that server, which must not complain."""
    with heard(shared.new_page(), cases_url) as page:
        yield page


def test_other_load_cases_of_the_scoreboard_are_reached_by_keyboard(cases: Page, cases_url: str) -> None:
    """Load cases open to tuning and held-out ones are paged separately; another release starts both again."""
    cases.goto(f"{cases_url}/scoreboard")
    tuned = cases.get_by_role("navigation", name="Pages of the list: load cases")
    held_out = cases.get_by_role("navigation", name="Pages of the list: held-out load cases")
    expect(tuned).to_contain_text("Load cases 1–20 of 30")
    expect(held_out).to_contain_text("Held-out load cases 1–10 of 15")
    tuned.get_by_role("link", name="Next").press("Enter")
    expect(tuned).to_contain_text("Load cases 21–30 of 30")
    expect(held_out).to_contain_text("Held-out load cases 1–10 of 15")
    expect(cases).to_have_url(re.compile(r"cases=2$"))
    choose(cases, "scoreboard-release", "B0")
    expect(tuned).to_contain_text("Load cases 1–20 of 30")


def test_other_dummies_are_reached_by_keyboard(cases: Page, cases_url: str) -> None:
    """The selected dummy stays in the list, and stays selected."""
    cases.goto(f"{cases_url}/dummies?dummy=KM-W-002")
    pages = cases.get_by_role("navigation", name="Pages of the list: dummies")
    expect(pages).to_contain_text("Dummies 1–20 of 62")
    pages.get_by_role("link", name="Last").press("Enter")
    expect(pages).to_contain_text("Dummies 61–62 of 62")
    expect(cases.locator(".dummy-lines .is-picked")).to_contain_text("KM-W-002")
    expect(cases.locator("#dummies-title")).to_have_text("KM-W-002")


@pytest.fixture(scope="module")
def unchecked_url(tmp_path_factory: pytest.TempPathFactory) -> Iterator[str]:
    """Serve a project with many load cases whose tests have not been checked yet."""
    folder = write_project(tmp_path_factory.mktemp("unchecked"))
    file = folder / "campaign.toml"
    kept = file.read_text(encoding="utf-8")
    start, end = kept.index("[[load_case]]"), kept.index('[[load_case]]\nname = "impact"')
    more = "".join(kept[start:end].replace('"drop"', f'"drop-{number}"') for number in range(20))
    file.write_text(kept[:start] + more + kept[start:], encoding="utf-8")
    yield from _served(folder)


def test_the_health_of_many_load_cases_is_complete_in_the_end(
    shared: BrowserContext, unchecked_url: str
) -> None:
    """The page sends requests until all load cases are examined, and then stops."""
    asked: list[str] = []
    with heard(shared.new_page(), unchecked_url) as page:
        page.on("request", lambda one: asked.append(one.post_data or ""))
        page.goto(f"{unchecked_url}/data")
        table = page.locator("#data-health")
        expect(table).to_contain_text("22 of 22 load cases need attention.", timeout=60_000)
        expect(table).not_to_contain_text("waiting")
        page.wait_for_load_state("networkidle")
        count = sum("data-health.children" in one for one in asked)
        assert 1 < count <= 22
        page.wait_for_timeout(1_000)
        assert sum("data-health.children" in one for one in asked) == count


def test_another_part_of_the_changes_stays_in_sight(wide: Page, wide_url: str) -> None:
    """The list stays open, and the page is not scrolled to its top."""
    wide.goto(f"{wide_url}/scoreboard")
    more = wide.locator(".changes-card details").last
    more.locator("summary").click()
    step = more.get_by_role("link", name="Next")
    step.scroll_into_view_if_needed()
    step.click()
    expect(more).to_contain_text("Channels 17–26 of ")
    expect(more).to_have_attribute("open", "")
    assert wide.evaluate("window.scrollY") > 0
