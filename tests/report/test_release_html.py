"""The document as a page: complete, self-contained, the same from the same inputs."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from correlate.criteria import CAUTION as CRITERIA_CAUTION
from correlate.plots.wording import CAUTION
from correlate.report.release_appendix import SECTIONS as APPENDIX_SECTIONS
from correlate.report.release_appendix import appendix_html
from correlate.report.release_document import SECTIONS, AppendixFile, release_html
from correlate.store.remarks import Note
from tests.report.test_html import read

if TYPE_CHECKING:
    from correlate import Campaign
    from correlate.report.release_contents import ReleaseContents


@pytest.fixture(scope="module")
def document(small_contents: ReleaseContents) -> str:
    """Write the document."""
    return release_html(small_contents)


@pytest.fixture(scope="module")
def appendix(small_contents: ReleaseContents) -> str:
    """Write the appendix."""
    return appendix_html(small_contents)


@pytest.fixture(params=["document", "appendix"])
def either(request: pytest.FixtureRequest) -> str:
    """Return the report, then its appendix."""
    return str(request.getfixturevalue(request.param))


def test_the_same_contents_give_the_same_pages(
    small_contents: ReleaseContents, document: str, appendix: str
) -> None:
    """No random name and no moment of writing is in them."""
    assert (release_html(small_contents), appendix_html(small_contents)) == (document, appendix)


def test_every_section_is_there_and_linked(either: str, document: str) -> None:
    """The list of contents links to every section, and every link has its target."""
    targets = set(re.findall(r' id="([^"]+)"', either))
    links = set(re.findall(r'href="#([^"]+)"', either))
    assert links <= targets
    assert {anchor for anchor, _ in (SECTIONS if either == document else APPENDIX_SECTIONS)} <= links


def test_no_name_is_given_twice(either: str) -> None:
    """Names of sections, channels and drawings are each used once."""
    names = re.findall(r' id="([^"]+)"', either)
    assert len(names) == len(set(names))


def test_the_appendix_is_named_with_its_hash(small_contents: ReleaseContents, document: str) -> None:
    """Who has the report can tell whether a file is its appendix; a copy without one says so."""
    beside = AppendixFile(name="a2-appendix.html", sha256="0f" * 32)
    words = read(release_html(small_contents, appendix=beside)).words
    assert f"a2-appendix.html (SHA-256 {'0f' * 8}…" in words
    assert f"Appendix, SHA-256 {'0f' * 32}" in words
    assert "This copy has no appendix" in read(document).words


def test_nothing_is_loaded_and_nothing_runs(either: str) -> None:
    """No script, no other file; the policy of the page forbids both."""
    reader = read(either)
    assert reader.loads == []
    assert "script" not in reader.tags
    assert reader.policy.startswith("default-src 'none'; style-src")
    assert "script-src" not in reader.policy
    assert re.findall(r"url\((?!\"data:font|#)|@import", either) == []


def test_every_number_of_the_release_is_there(
    document: str, appendix: str, small_contents: ReleaseContents
) -> None:
    """Release, load cases and channels with their ratings in both files, and every hash in the appendix."""
    words, beside = read(document).words, read(appendix).words
    for case in small_contents.cases:
        for one in case.channels:
            if one.score.overall is not None:
                assert f"{one.score.overall:.3f}" in words
                assert f"{one.score.overall:.3f}" in beside
            for record in one.records:
                assert record.inputs["reference"]["sha256"] in beside
                assert record.inputs["candidate"]["sha256"] in beside
    assert f"{small_contents.score.training.overall:.3f}" in words
    assert small_contents.campaign.sha256 in words


def test_every_change_is_in_the_appendix(appendix: str, small_contents: ReleaseContents) -> None:
    """The report lists what moved beyond chance, the appendix everything."""
    rows = read(appendix[appendix.index('id="all-changes"') :]).words
    assert small_contents.changes
    for change in small_contents.changes:
        if change.kind == "channel" and change.difference is not None:
            assert f"{change.words} " in rows


def test_a_load_case_has_its_page(document: str, small_contents: ReleaseContents) -> None:
    """Each begins on a page of the print; of more than two channels the one rated lowest is drawn large."""
    pages = document.split('<section class="sheet leaf case"')[1:]
    assert len(pages) == len(small_contents.cases)
    for page, case in zip(pages, small_contents.cases, strict=True):
        assert case.score.words in page
        rated = [one for one in case.channels if one.score.overall is not None]
        large = page.count("score [1]</text>")  # the second panel of a large drawing
        assert large == (len(rated) if len(case.channels) <= 2 else 1)


def test_every_recorded_step_is_in_the_appendix(appendix: str, small_contents: ReleaseContents) -> None:
    """The steps of each curve stand in their order."""
    steps = read(appendix[appendix.index('id="steps"') :]).words
    for case in small_contents.cases:
        for one in case.channels:
            for record in one.records:
                for side in ("reference", "candidate"):
                    names = [step["step"] for step in record.inputs[side]["history"]]
                    pattern = "[^;]*; ".join(re.escape(name[:1].upper() + name[1:]) for name in names)
                    assert re.search(pattern, steps)


def test_the_reasons_for_what_is_not_rated_are_there(
    document: str, appendix: str, small_contents: ReleaseContents
) -> None:
    """Whoever misses a channel finds out why; the report counts them, the appendix has every reason."""
    assert "could not be rated; the appendix gives the reasons" in read(document).words
    words = read(appendix).words
    own = [one for one in small_contents.scores.unrated if one.release == "A2"]
    assert own
    reasons = [one.reason.replace(f"{small_contents.campaign.folder}/", "") for one in own]
    assert all(" ".join(reason.split()) in words for reason in reasons)


def test_no_page_names_the_folder_of_the_project(either: str, small_campaign: Campaign) -> None:
    """Whoever receives the report learns nothing of the machine; files are named from the project on."""
    assert str(small_campaign.folder) not in either
    assert "laboratory/" in either or "drop" in either


def test_the_cautions_are_on_it(document: str) -> None:
    """Ratings, criteria and sign-offs inform; they do not certify."""
    words = read(document).words
    assert CAUTION in words
    assert CRITERIA_CAUTION in words


def test_one_drawing_a_rated_channel(document: str, small_contents: ReleaseContents) -> None:
    """Each is a vector drawing with words for who cannot see it."""
    rated = sum(one.shown is not None for case in small_contents.cases for one in case.channels)
    assert document.count('aria-label="Test and model of') == rated
    assert document.count('<svg class="figure"') >= rated


def test_texts_from_files_are_escaped(small_contents: ReleaseContents) -> None:
    """Titles, notes and running heads cannot bring markup or style onto the page."""
    evil = '</style><script>alert("1")</script>'
    note = Note(
        campaign="c",
        release="A2",
        load_case="",
        channel="",
        text=evil,
        who="w",
        entered=small_contents.kept.runs[0].started,
    )
    kept = replace(small_contents.kept, notes=[note])
    page = release_html(replace(small_contents, kept=kept))
    assert evil not in page
    assert "Small <campaign>" not in page
    assert r'content: "Small \00003ccampaign\00003e · release A2' in page
    assert evil in read(page).words


def test_page_numbers_stand_in_the_list_of_contents(small_contents: ReleaseContents, document: str) -> None:
    """Given where each section begins, the printed list says so; on a screen there is none."""
    printed = release_html(small_contents, pages={"method": 37})
    assert "<span>Method and settings</span><i></i><b>37</b>" in printed
    assert "<span>Method and settings</span><i></i><b></b>" in document


def test_a_release_without_baseline_has_its_document(small_contents: ReleaseContents) -> None:
    """The section on changes says that there is nothing to compare with."""
    alone = replace(
        small_contents, board=replace(small_contents.board, against=None), baseline=None, changes=()
    )
    assert "There is no release to compare with." in read(release_html(alone)).words
