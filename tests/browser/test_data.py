"""The data page as a laboratory and an analyst use it."""

from __future__ import annotations

import re
import zipfile
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from correlate import PackagePlan, load_campaign, make_package, receive_package
from correlate.reference.package.description import load_words
from tests.browser.test_pair_page import choose, expect_to_fit
from tests.reference.package.media_files import WORDS, write_words

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page

pytestmark = pytest.mark.browser


def test_a_package_is_sent_examined_released_and_used(
    working: Page, working_url: str, working_folder: Path, tmp_path: Path
) -> None:
    """The laboratory sends a package with errors, sees the check, answers for it, and uses its tests."""
    tests = sorted(working_folder.glob("laboratory/drop/*.csv"))
    make_package(
        PackagePlan(tests=tests, checked_by="a laboratory", despite="a test"), tmp_path / "drops.zip"
    )
    working.goto(f"{working_url}/data")
    expect(working.get_by_text("No package has been uploaded yet.")).to_be_visible()
    expect(working.get_by_text("2 of 2 load cases need attention.")).to_be_visible()
    expect_to_fit(working)
    working.locator("#data-package input").set_input_files(tmp_path / "drops.zip")
    ended = working.locator("#data-job-said .job-end")
    expect(ended).to_contain_text(re.compile(r"In quarantine: \d+ errors were found"))
    expect(working).to_have_url(re.compile(r"\?job="))
    working.get_by_role("link", name="Inspect the package").click()
    expect(working.locator("#data-inspection-title")).to_contain_text("in quarantine")
    expect(working.get_by_role("heading", name=re.compile("Error: copy, D01"))).to_be_visible()
    expect(working.locator("#data-use")).to_be_hidden()
    working.get_by_label("Reason (release from quarantine)").fill("closed forms are alike")
    working.get_by_role("button", name="Release package").click()
    expect(working.locator("#data-inspection-title")).to_contain_text("released from quarantine")
    choose(working, "data-use-load-case", "New load case …")
    working.get_by_label("Name of the new load case").fill("drop-2")
    working.get_by_label("From [ms]").fill("0")
    working.get_by_label("To [ms]").fill("40")
    working.get_by_role("button", name="Show the change").click()
    expect(working.get_by_text('name = "drop-2"')).to_be_visible()
    working.get_by_role("button", name="Use in campaign").click()
    expect(working.get_by_text("D01, D02 of package drops are used in 'drop-2'.")).to_be_visible()
    row = working.get_by_role("row", name=re.compile("^drop-2"))
    expect(row).to_contain_text("closed forms are alike")
    assert set(load_campaign(working_folder).tests(load_campaign(working_folder).load_case("drop-2"))) == {
        "D01",
        "D02",
    }


def test_a_damaged_package_is_refused(
    working: Page, working_url: str, working_folder: Path, tmp_path: Path
) -> None:
    """A file that is no package: the reason is said, and nothing is kept."""
    (tmp_path / "broken.zip").write_text("no zip", encoding="utf-8")
    working.goto(f"{working_url}/data")
    working.locator("#data-package input").set_input_files(tmp_path / "broken.zip")
    expect(working.locator("#data-job-said")).to_contain_text("Failed")
    expect(working.locator("#data-job-said")).to_contain_text("Nothing was stored.")
    assert not list(working_folder.glob("*/broken"))


def test_a_file_that_is_too_large_is_not_sent(working: Page, working_url: str, tmp_path: Path) -> None:
    """The browser itself says how large it is and how large it may be."""
    with (tmp_path / "large.zip").open("wb") as stream:
        stream.truncate(100_000_001)
    working.goto(f"{working_url}/data")
    expect(working.get_by_text("Drop a package here")).to_be_visible()
    working.locator("#data-package input").set_input_files(tmp_path / "large.zip")
    refusal = "large.zip has 100.0 MB; send at most 100 MB."
    expect(working.get_by_role("alert").filter(has_text=refusal)).to_be_visible()


def test_results_become_a_release(
    working: Page, working_url: str, working_folder: Path, tmp_path: Path
) -> None:
    """The analyst sends a zip file; the release is in the table and in the campaign."""
    with zipfile.ZipFile(tmp_path / "results.zip", "w") as archive:
        for name in ("drop.csv", "impact.csv"):
            archive.write(working_folder / "releases/A2" / name, name)
    working.goto(f"{working_url}/data")
    expect(working.get_by_role("row", name=re.compile("^A1"))).to_be_visible()
    working.get_by_role("button", name="Add release").click()
    expect(working.get_by_text("Enter a name for the release.")).to_be_visible()
    working.get_by_label("Release name").fill("B1")
    working.locator("#data-results-file input").set_input_files(tmp_path / "results.zip")
    expect(working.get_by_text("results.zip")).to_be_visible()
    working.get_by_role("button", name="Add release").click()
    expect(working.get_by_text("Release B1 is in the campaign")).to_be_visible()
    expect(working.get_by_role("row", name=re.compile("^B1"))).to_be_visible()
    assert load_campaign(working_folder).release("B1")
    # The field is empty again, and says so.
    expect(working.locator("#data-results-file")).to_contain_text("Drop a zip file here")


def test_an_open_channel_is_paired_by_hand(working: Page, working_url: str, working_folder: Path) -> None:
    """The proposal on top is accepted with one press, and the campaign file has it."""
    working.goto(f"{working_url}/data?release=A2")
    working.get_by_role("button", name="Pair Head acceleration Z").click()
    expect(working.get_by_text("Head acceleration Z is paired with head z")).to_be_visible()
    expect(working.get_by_text("Every test channel has a partner in these results")).to_be_visible()
    assert load_campaign(working_folder).load_case("drop").plan("D0HEAD0000KMACZP").model == "head z"


def test_photos_and_films_of_a_package_are_shown_with_its_signature(
    working: Page, working_url: str, working_folder: Path, tmp_path: Path
) -> None:
    """A photo is drawn from the server alone, a film has controls and its time zero in words; all fits."""
    words = WORDS.replace('"T1"', '"D01"').replace('"T2"', '"D02"')
    plan = PackagePlan(
        tests=sorted(working_folder.glob("laboratory/drop/*.csv")),
        checked_by="a laboratory",
        despite="a test",
        words=load_words(write_words(tmp_path / "words", words)),
    )
    make_package(plan, tmp_path / "filmed.zip")
    receive_package(working_folder, tmp_path / "filmed.zip")
    working.goto(f"{working_url}/data?package=filmed")
    shown = working.get_by_role("list").filter(has_text="The drop tower.")
    photo = shown.get_by_role("img", name="the drop tower")
    photo.scroll_into_view_if_needed()
    expect(photo).to_have_js_property("naturalWidth", 1)
    expect(shown.locator("video")).to_have_count(2)
    expect(shown.get_by_text("Time zero of the test is at 4.8 s of the film")).to_be_visible()
    expect(working.locator("#data-inspected")).to_contain_text("Not signed: nothing shows who made")
    expect_to_fit(working)
