"""The record of a qualification test: everything is on it, and it is one page of A4."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, datetime
from io import BytesIO
from pathlib import Path
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader

from correlate import read
from correlate.criteria import CAUTION, qualify, window_book
from correlate.laboratory.circumstances import SensorUsed, StatedCircumstances, circumstances
from correlate.report.qualification_record import (
    CURVE_HEIGHTS,
    QualificationRecord,
    headline,
    record_content,
    record_html,
)
from correlate.report.record_file import record_bytes
from correlate.selfcheck import KIT

if TYPE_CHECKING:
    from correlate.criteria import Qualification, Window

WHEN = datetime(2026, 3, 9, 12, 30, tzinfo=UTC)
BOOK = window_book()
MALE = "adult male, 50th percentile"
A4_POINTS = (595.0, 842.0)
DATA = {
    "head drop": KIT / "windows-head-drop.csv",
    "thorax": KIT / "windows-thorax.csv",
    "knee impact": KIT / "windows-knee.csv",
    "flexion": KIT / "windows-neck-flexion.csv",
    "extension": KIT / "windows-neck-extension.csv",
}
STATED = StatedCircumstances(
    serial="KM-T-004",
    laboratory="Kelpwick Impact Laboratory",
    operator="operator <2>",
    temperature_degC=21.2,
    humidity_percent=44.0,
    soak_hours=6.0,
    sensor=(SensorUsed(channel="??CHST??????DSX?", serial="DP-31"),),
)


def record_of(test: str, window: Window | None = None) -> QualificationRecord:
    """Return the record of a test of the kit."""
    data = read(DATA[test])
    found = qualify(data, window or BOOK.find(device=MALE, test=test), BOOK)
    return QualificationRecord(
        qualification=found,
        circumstances=circumstances(data, found.channels, STATED),
        when=WHEN,
        code_sha256="ab" * 32,
        signer="",
    )


def pages(content: bytes) -> list[str]:
    """Return the text of every page, all of which are A4."""
    read_back = PdfReader(BytesIO(content))
    for one in read_back.pages:
        size = (float(one.mediabox.width), float(one.mediabox.height))
        assert size == pytest.approx(A4_POINTS, abs=1.0)
    return [one.extract_text() for one in read_back.pages]


def test_the_page_holds_everything_the_result_rests_on() -> None:
    """Facts with source, windows with source, values, verdicts, sensors, hashes, curves, code, caution."""
    record = record_of("thorax")
    page = record_html(record)
    for words in (
        "Qualification record",
        "All 4 quantities are inside their windows.",
        "KM-T-004",
        "operator &lt;2&gt;",
        "21.2 °C",
        "44 %",
        "6 h",
        "49 CFR 572.34, checked against the published text",
        "63.5 to 72.6",
        "67.2",
        "DP-31",
        "evaluated from −5 to 100 ms; probe mass 23.4 kg",
        "probe force, CFC 180",
        "ab" * 32,
        "2026-03-09 12:30:00+00:00",
        "Not signed.",
        CAUTION,
    ):
        assert words in page, words
    for channel in record.qualification.channels:
        assert channel.channel in page
        assert str(channel.source.sha256) in page
    assert page.count("<svg") == len(record.qualification.signals) == 2
    assert "<script" not in page


def test_the_signer_is_named() -> None:
    """Holder and key are on the page before it is signed."""
    page = record_html(replace(record_of("thorax"), signer="lab of Kelpwick, key 0123"))
    assert "Signed by lab of Kelpwick, key 0123; the signature is in the file beside this record." in page


def test_outcomes_in_words() -> None:
    """Outside by how much, and not measurable with the reason."""
    knee = record_of("knee impact")
    assert headline(knee.qualification) == "Quantities: 1 of 2 outside."
    assert "outside, 0.01 above" in record_html(knee)
    lacking = record_of("knee impact", BOOK.find(device=MALE, test="thorax"))
    assert headline(lacking.qualification) == "Quantities: 2 of 4 outside, 2 of 4 not measurable."
    assert "not measurable: no channel ??CHST??????DSX?" in record_html(lacking)


@pytest.mark.browser
@pytest.mark.parametrize("test", DATA)
def test_every_shipped_test_of_the_kit_is_one_page(test: str) -> None:
    """One page of A4 with the curves, and the day of the evaluation as its date."""
    record = record_of(test)
    content = record_content(record, Path("record.pdf"))
    (text,) = pages(content)
    assert "Curves as evaluated" in text
    assert "medical judgement" in text
    metadata = PdfReader(BytesIO(content)).metadata
    assert metadata is not None
    assert metadata.creation_date is not None
    assert metadata.creation_date.date() == WHEN.date()


def crowded(*, rows: int, channels: int, notes: int) -> QualificationRecord:
    """Return a record of the thorax with more of everything."""
    record = record_of("thorax")
    found: Qualification = record.qualification
    more = replace(found, verdicts=(found.verdicts * rows)[:rows])
    facts = replace(
        record.circumstances,
        sensors=(record.circumstances.sensors * channels)[:channels],
        notes=("The temperature is stated as 23 °C, and the header of the test says 21 °C.",) * notes,
    )
    return replace(record, qualification=more, circumstances=facts)


@pytest.mark.browser
def test_curves_shrink_and_are_left_out_so_that_it_stays_one_page() -> None:
    """Where the curves do not fit at full height they are smaller, and at last left out."""
    some = crowded(rows=14, channels=6, notes=10)
    page = record_html(some)
    assert len(pages(record_bytes(Path("record.pdf"), page, day=WHEN.date()))) == 2
    (smaller,) = pages(record_content(some, Path("record.pdf")))
    assert "Curves as evaluated" in smaller
    (without,) = pages(record_content(crowded(rows=21, channels=9, notes=4), Path("record.pdf")))
    assert "Curves as evaluated" not in without


def test_a_page_for_the_screen_has_the_curves_at_their_full_height() -> None:
    """Only a print has to be one page."""
    record = record_of("flexion")
    content = record_content(record, Path("record.html"))
    assert content.decode() == record_html(record, curve_height=CURVE_HEIGHTS[0])
    assert "<svg" not in record_html(record, curve_height=0)
