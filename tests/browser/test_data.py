"""The data page as a laboratory and an analyst use it."""

from __future__ import annotations

import re
import zipfile
from typing import TYPE_CHECKING

import pytest
from playwright.sync_api import expect

from correlate import PackagePlan, load_campaign, make_package
from tests.browser.test_pair_page import expect_to_fit

if TYPE_CHECKING:
    from pathlib import Path

    from playwright.sync_api import Page

pytestmark = pytest.mark.browser


def test_a_package_is_sent_and_examined(
    working: Page, working_url: str, working_folder: Path, tmp_path: Path
) -> None:
    """The laboratory sends a package; what became of it is said, listed, and there again after a reload."""
    tests = sorted(working_folder.glob("laboratory/drop/*.csv"))
    make_package(
        PackagePlan(tests=tests, checked_by="a laboratory", despite="a test"), tmp_path / "drops.zip"
    )
    working.goto(f"{working_url}/data")
    expect(working.get_by_text("No package has been uploaded yet.")).to_be_visible()
    expect_to_fit(working)
    working.locator("#data-package input").set_input_files(tmp_path / "drops.zip")
    ended = working.locator("#data-job-said .job-end")
    expect(ended).to_contain_text(re.compile(r"(received|quarantine)/drops"))
    expect(working.locator(".package-name")).to_have_text("drops")
    expect(working).to_have_url(re.compile(r"\?job="))
    working.reload()
    expect(ended).to_contain_text("drops")
    assert list(working_folder.glob("*/drops/bagit.txt"))


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


def test_an_open_channel_is_paired_by_hand(working: Page, working_url: str, working_folder: Path) -> None:
    """The proposal on top is accepted with one press, and the campaign file has it."""
    working.goto(f"{working_url}/data?release=A2")
    working.get_by_role("button", name="Pair Head acceleration Z").click()
    expect(working.get_by_text("Head acceleration Z is paired with head z")).to_be_visible()
    expect(working.get_by_text("Every test channel has a partner in these results")).to_be_visible()
    assert load_campaign(working_folder).load_case("drop").plan("D0HEAD0000KMACZP").model == "head z"
