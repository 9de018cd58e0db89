"""The document as PDF: page numbers, dates and bytes that do not depend on when it was printed."""

from __future__ import annotations

from datetime import date
from io import BytesIO
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from correlate.errors import FormatError
from correlate.report.release_document import dated, find_browser, printed, release_pdf

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

DAY = date(2026, 3, 9)


def page(pages: Mapping[str, int]) -> str:
    """Return two leaves: a list of contents, and what it links to."""
    return (
        "<html lang='en'><title>Two leaves</title><style>section { break-before: page }</style>"
        f"<p><a href='#there'>There</a> on page [{pages.get('there', '')}]</p>"
        "<section id='there'><h1>There</h1></section></html>"
    )


@pytest.mark.browser
def test_a_print_knows_its_pages_its_date_and_nothing_of_the_clock() -> None:
    """The list of contents names the page; both dates are that of the document; another print is equal."""
    browser = find_browser()
    first = release_pdf(page, day=DAY, browser=browser)
    assert dated(printed(page({"there": 2}), browser), DAY) == first
    read = PdfReader(BytesIO(first))
    assert len(read.pages) == 2
    assert "on page [2]" in read.pages[0].extract_text()
    told = read.metadata
    assert told is not None
    assert told.title == "Two leaves"
    assert told.creation_date is not None
    assert told.creation_date.date() == DAY
    assert told.modification_date == told.creation_date


def test_dates_are_replaced_in_as_many_bytes() -> None:
    """What follows in the file is found where it was before."""
    before = b"<</CreationDate (D:20251125165312+00'00')\n/ModDate (D:20251125165312Z)>>"
    after = dated(before, DAY)
    assert after == b"<</CreationDate (D:20260309000000+00'00')\n/ModDate (D:20260309000000+)>>"
    assert len(after) == len(before)


def test_a_machine_without_a_browser_is_told(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """One sentence with the way out."""
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(FormatError, match="Chromium is not installed on this machine; install Chromium, or"):
        find_browser()


def test_a_browser_that_fails_is_told(tmp_path: Path) -> None:
    """A program that ends with an error makes no PDF."""
    broken = tmp_path / "chromium"
    broken.write_text("#!/bin/sh\nexit 3\n", encoding="utf-8")
    broken.chmod(0o755)
    with pytest.raises(FormatError, match=r"could not print \(CalledProcessError\)"):
        release_pdf(page, day=DAY, browser=str(broken))
