"""The decision sheet as a manager uses it: read, follow, sign, remark, export, print."""

from __future__ import annotations

import re
from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect
from pypdf import PdfReader

from correlate import RunInfo, load_campaign, open_store, score_into
from dashboard.state import Project
from tests.browser.conftest import _served, heard
from tests.browser.test_pair_page import choose, expect_to_fit
from tests.dashboard.project import write_project

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

    from playwright.sync_api import BrowserContext, Page

    from correlate import StoredBoard

pytestmark = pytest.mark.browser


@pytest.fixture(scope="module")
def signed_folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the small project with a limit that is missed, and rate it with its evidence."""
    folder = write_project(tmp_path_factory.mktemp("signed"))
    file = folder / "campaign.toml"
    kept = file.read_text(encoding="utf-8").replace('region = "spine"', 'region = "spine"\ncfc = 180')
    limits = "[limits]\nleast = 0.99\n\n[[load_case]]"
    file.write_text(kept.replace("[[load_case]]", limits, 1), encoding="utf-8")
    with open_store(folder / "ratings.sqlite") as store:
        score_into(store, load_campaign(folder), run=RunInfo.now(who="analyst"), workers=1)
    return folder


@pytest.fixture(scope="module")
def sheet_url(signed_folder: Path) -> Iterator[str]:
    """Serve that project."""
    yield from _served(signed_folder)


@pytest.fixture
def sheet(shared: BrowserContext, sheet_url: str) -> Iterator[Page]:
    """Return the first page of that server, which must not complain."""
    with heard(shared.new_page(), sheet_url) as page:
        page.goto(sheet_url)
        expect(page.locator("#decision-trend .js-line").first).to_be_attached()
        yield page


def stored(folder: Path, release: str = "") -> StoredBoard:
    """Return what the store says of a release."""
    project = Project(folder)
    return project.board(project.campaign(), release=release)


def test_the_verdict_is_read_at_a_glance(sheet: Page, signed_folder: Path) -> None:
    """The start page says the verdict and the numbers of the store, on any screen, and follows the menu."""
    found = stored(signed_folder)
    assert found.board.held_out is not None
    expect(sheet.locator("h1")).to_have_text(found.decision.verdict)
    expect(sheet.locator("h1")).to_contain_text(
        "A2 misses 2 of 2 limits, on incomplete evidence; as rated, better than A1"
    )
    numbers = [f"{line.score.overall:.3f}" for line in (found.board.total, found.board.held_out)]
    expect(sheet.locator(".headline-card .overall")).to_have_text(numbers)
    expect(sheet).to_have_title(re.compile("^A2 misses"))
    expect_to_fit(sheet)
    choose(sheet, "decision-release", "A1")
    expect(sheet.locator("h1")).to_have_text(stored(signed_folder, "A1").decision.verdict)
    expect(sheet).to_have_url(re.compile(r"/\?release=A1$"))


def test_the_worst_channel_and_why_are_three_clicks_away(sheet: Page, signed_folder: Path) -> None:
    """One click leads to the curves of the channel with the lowest rating; its reasons are on that page."""
    lowest = stored(signed_folder).decision.lowest
    assert lowest is not None
    sheet.get_by_text("Lowest channel:").get_by_role("link").click()
    case, channel = lowest.place
    expect(sheet).to_have_url(re.compile(rf"/pair\?release=A2&against=A1&case={case}&channel={channel}$"))
    expect(sheet.locator("#figure .js-line").first).to_be_attached()
    expect(sheet.locator("#pair-reasons .card").first).to_be_visible()


def test_a_release_is_signed_remarked_and_exported(sheet: Page, signed_folder: Path) -> None:
    """A name is needed; then sign-off and remark stand on the page, and the report is saved as PDF."""
    sheet.get_by_role("button", name="Sign off").click()
    expect(sheet.get_by_role("alert")).to_have_text("the name is empty; enter your name")
    sheet.get_by_label("Name of the signer").fill("programme office")
    sheet.get_by_label("Scope").fill("not for the neck")
    sheet.get_by_role("button", name="Sign off").click()
    expect(sheet.get_by_text("Release A2 is signed off as manager.")).to_be_visible()
    expect(sheet.locator("#decision-sign-offs")).to_contain_text("Scope: not for the neck")
    expect(sheet.get_by_label("Scope")).to_have_value("")
    sheet.get_by_label("Your name").fill("laboratory")
    sheet.get_by_label("Remark on this release").fill("gauge 3 was replaced")
    sheet.get_by_role("button", name="Add remark").click()
    expect(sheet.locator("#decision-notes")).to_contain_text("gauge 3 was replaced")
    sheet.get_by_role("button", name="Create report").click()
    link = sheet.get_by_role("link", name="Save as PDF")
    expect(link).to_be_visible(timeout=60_000)
    with sheet.expect_download() as saved:
        link.click()
    assert saved.value.suggested_filename == "report-A2.pdf"
    text = "".join(page.extract_text() for page in PdfReader(saved.value.path()).pages)
    assert "not for the neck" in " ".join(text.split())
    (signed,) = stored(signed_folder).sign_offs
    assert (signed.sign_off.who, signed.is_current) == ("programme office", True)


def test_it_prints_on_one_upright_sheet(sheet: Page, signed_folder: Path) -> None:
    """From a dark screen too: verdict, objections, numbers and sign-offs on one page of A4, no controls."""
    sheet.emulate_media(color_scheme="dark")
    expect(sheet.locator("#decision-trend .js-line").first).to_be_attached()
    pages = PdfReader(BytesIO(sheet.pdf(prefer_css_page_size=True))).pages
    assert len(pages) == 1
    assert pages[0].mediabox.height > pages[0].mediabox.width
    said = " ".join(pages[0].extract_text().split())
    found = stored(signed_folder)
    for words in (found.decision.verdict, "Objections", "Load cases open to tuning", "Sign-offs"):
        assert words in said
    assert "Sign off" not in said.replace("Sign-offs", "")
    assert "Create report" not in said
    sheet.emulate_media(media="print", color_scheme="dark")
    expect(sheet.locator("h1")).to_have_css("color", "rgb(17, 36, 46)")
    for hidden in ("#navigation", "#decision-picks", ".theme-choice"):
        expect(sheet.locator(hidden)).to_be_hidden()
