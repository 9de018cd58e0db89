"""The document as a page: complete, self-contained, the same from the same inputs."""

from __future__ import annotations

import re
from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from correlate.criteria import CAUTION as CRITERIA_CAUTION
from correlate.plots.wording import CAUTION
from correlate.report.release_document import SECTIONS, release_html
from correlate.store.remarks import Note
from tests.report.test_html import read

if TYPE_CHECKING:
    from correlate.report.release_contents import ReleaseContents


@pytest.fixture(scope="module")
def document(small_contents: ReleaseContents) -> str:
    """Write the document."""
    return release_html(small_contents)


def test_the_same_contents_give_the_same_page(small_contents: ReleaseContents, document: str) -> None:
    """No random name and no moment of writing is in it."""
    assert release_html(small_contents) == document


def test_every_section_is_there_and_linked(document: str) -> None:
    """The list of contents links to every section, and every link of the document has its target."""
    targets = set(re.findall(r' id="([^"]+)"', document))
    links = set(re.findall(r'href="#([^"]+)"', document))
    assert links <= targets
    assert {anchor for anchor, _ in SECTIONS} <= links


def test_no_name_is_given_twice(document: str) -> None:
    """Names of sections, channels and drawings are each used once."""
    names = re.findall(r' id="([^"]+)"', document)
    assert len(names) == len(set(names))


def test_nothing_is_loaded_and_nothing_runs(document: str) -> None:
    """No script, no other file; the policy of the document forbids both."""
    reader = read(document)
    assert reader.loads == []
    assert "script" not in reader.tags
    assert reader.policy.startswith("default-src 'none'; style-src")
    assert "script-src" not in reader.policy
    assert re.findall(r"url\((?!\"data:font|#)|@import", document) == []


def test_every_number_of_the_release_is_on_it(document: str, small_contents: ReleaseContents) -> None:
    """Release, load cases and channels with their ratings, and the hash of every input."""
    words = read(document).words
    for case in small_contents.cases:
        for one in case.channels:
            if one.score.overall is not None:
                assert f"{one.score.overall:.3f}" in words
            for record in one.records:
                assert record.inputs["reference"]["sha256"] in words
                assert record.inputs["candidate"]["sha256"] in words
    assert f"{small_contents.score.training.overall:.3f}" in words
    assert small_contents.campaign.sha256 in words


def test_every_recorded_step_is_on_it(document: str, small_contents: ReleaseContents) -> None:
    """The steps of each curve stand in the appendix in their order."""
    appendix = read(document[document.index('id="steps"') :]).words
    for case in small_contents.cases:
        for one in case.channels:
            for record in one.records:
                for side in ("reference", "candidate"):
                    names = [step["step"] for step in record.inputs[side]["history"]]
                    pattern = "[^;]*; ".join(re.escape(name[:1].upper() + name[1:]) for name in names)
                    assert re.search(pattern, appendix)


def test_the_reasons_for_what_is_not_rated_are_on_it(document: str, small_contents: ReleaseContents) -> None:
    """Whoever misses a channel finds out why."""
    words = read(document).words
    own = [one for one in small_contents.scores.unrated if one.release == "A2"]
    assert own
    assert all(" ".join(one.reason.split()) in words for one in own)


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
