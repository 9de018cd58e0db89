"""The printed report of the demo: which pages there are, and that none is nearly empty."""

from __future__ import annotations

from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from correlate import find_device, load_campaign, open_store, window_book
from correlate.report.release_contents import KeptResults, Yardsticks, release_contents
from correlate.report.release_document import find_browser, printed, release_html
from tests.docs.demo_project import shared_demo
from tests.report.conftest import DAY
from tests.report.pages import read_page

if TYPE_CHECKING:
    from correlate.report.release_contents import ReleaseContents

WINDOWS = {
    "head-drop": "head drop",
    "neck-flexion": "flexion",
    "neck-extension": "extension",
    "thorax-impact": "thorax",
    "knee-impact": "knee",
}


@pytest.fixture(scope="module")
def demo_contents(tmp_path_factory: pytest.TempPathFactory) -> ReleaseContents:
    """Gather the report of the demo with criteria and windows, which fill its pages most."""
    folder = shared_demo(tmp_path_factory)
    campaign, book, size = load_campaign(folder), window_book(), "adult male"
    with open_store(folder / "ratings.sqlite") as store:
        kept = KeptResults(
            records=store.ratings(campaign=campaign.title),
            ceilings=store.ceilings(campaign.title),
            runs=store.runs(campaign.title),
            notes=(),
            sign_offs=(),
            ratings_sha256=store.ratings_sha256(campaign=campaign.title, release="A3"),
            findings=store.findings(campaign.title),
            evidence=store.evidence(campaign.title),
        )
    windows = {case: book.find(device=size, test=test) for case, test in WINDOWS.items()}
    yardsticks = Yardsticks(device=find_device(size), windows=windows, book=book)
    return release_contents(campaign, kept, ["A3", "A2"], yardsticks=yardsticks, day=DAY)


@pytest.mark.browser
def test_two_pages_of_decision_and_one_for_each_load_case(demo_contents: ReleaseContents) -> None:
    """No load case spills over its page, and every page but the last is filled to 40 % at least."""
    document = PdfReader(BytesIO(printed(release_html(demo_contents), find_browser())))
    texts, shares = zip(*map(read_page, document.pages), strict=True)
    assert "Objections" in texts[0]
    assert "Limits of use" in texts[1]
    for text, case in zip(texts[2:], demo_contents.cases, strict=False):
        assert " ".join(case.score.words.split()) in text
    after = 2 + len(demo_contents.cases)
    assert "Diagnosis" in texts[after]
    assert len(texts) <= after + 4
    assert [round(share, 2) for share in shares[:-1] if share < 0.4] == []
