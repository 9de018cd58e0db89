"""The self-check as text, JSON, page and print."""

from __future__ import annotations

import json
from dataclasses import replace
from datetime import UTC, datetime
from io import BytesIO, StringIO
from typing import TYPE_CHECKING

import pytest
from pypdf import PdfReader
from rich.console import Console

from correlate.errors import FormatError
from correlate.report.record_file import check_record_name, record_bytes
from correlate.report.selfcheck import (
    LIMITS,
    ValidationRecord,
    print_selfcheck,
    record_html,
    record_json,
    verdict,
)
from correlate.selfcheck import SelfCheck, installation, run_selfcheck

if TYPE_CHECKING:
    from pathlib import Path

WHEN = datetime(2026, 3, 9, 12, 30, tzinfo=UTC)


@pytest.fixture(scope="module")
def record() -> ValidationRecord:
    """Check this installation."""
    return ValidationRecord(
        result=run_selfcheck(), installation=installation(), by="quality <manager>", when=WHEN
    )


@pytest.fixture
def wrong(record: ValidationRecord) -> ValidationRecord:
    """Let one number differ, and one be missing."""
    checked = list(record.result.checked)
    rows = list(checked[0].comparisons)
    rows[0] = replace(rows[0], found=0.5, difference=-0.5)
    rows[1] = replace(rows[1], found=None, difference=None, reason="it ended with ValueError: why")
    checked[0] = replace(checked[0], comparisons=tuple(rows))
    return replace(record, result=SelfCheck(kit=record.result.kit, checked=tuple(checked)))


def printed_text(record: ValidationRecord) -> str:
    """Return what the terminal shows at 140 columns."""
    out = StringIO()
    print_selfcheck(Console(file=out, width=140, highlight=False), record)
    return out.getvalue()


def test_terminal_shows_every_function_with_numbers_and_source(record: ValidationRecord) -> None:
    """Function, source, expected, found, difference, tolerance, the outcome, the machine and the caution."""
    text = printed_text(record)
    for name, checks in record.result.functions.items():
        assert f"\n{name}\n" in f"\n{text}"
        for one in checks:
            assert one.source[:60] in text
    assert "expected" in text
    assert "tolerance" in text
    assert f"All {record.result.count} numbers agree within tolerance." in text
    assert record.installation.processor in text
    assert "does not certify" in text
    assert "does not agree" not in text


def test_what_does_not_agree_is_said_in_words(wrong: ValidationRecord) -> None:
    """Function, case, quantity, both numbers or the reason, and the count."""
    text = printed_text(wrong)
    assert "does not agree: rating, equal curves, overall: expected 1, found 0.5" in text
    assert "does not agree: rating, equal curves, corridor: it ended with ValueError: why" in text
    assert verdict(wrong.result) == f"2 of {wrong.result.count} numbers do not agree: rating."


def test_json_is_the_whole_record(record: ValidationRecord, wrong: ValidationRecord) -> None:
    """Results, code, machine, libraries, date, name, limits and caution."""
    found = json.loads(record_json(record))
    assert found["agrees"] is True
    assert found["date"] == "2026-03-09T12:30:00+00:00"
    assert found["by"] == "quality <manager>"
    assert found["kit"]["sha256"] == record.result.kit.sha256
    assert found["installation"]["files"] == record.installation.files
    assert found["limits"] == list(LIMITS)
    assert sum(len(check["quantities"]) for check in found["checks"]) == record.result.count
    row = found["checks"][0]["quantities"][0]
    assert {"quantity", "unit", "expected", "found", "difference", "tolerance", "agrees"} <= set(row)
    refused = json.loads(record_json(wrong))
    assert refused["agrees"] is False
    assert [row["agrees"] for row in refused["checks"][0]["quantities"]][:3] == [False, False, True]


def test_page_holds_all_of_it_and_escapes_what_was_typed(wrong: ValidationRecord) -> None:
    """Every file with its hash, every row, the limits; nothing of a name acts on the page."""
    page = record_html(wrong)
    for name, digest in wrong.installation.files.items():
        assert name in page
        assert digest in page
    assert page.count("<td>agrees</td>") == wrong.result.count - 2
    assert page.count("<td>does not agree</td>") == 2
    assert "quality &lt;manager&gt;" in page
    assert "<script" not in page
    assert "does not certify" in page
    assert "ISO/IEC 17025:2017, 7.11.2" in page


@pytest.mark.browser
def test_record_is_printed_with_its_date_and_page_numbers(record: ValidationRecord, tmp_path: Path) -> None:
    """The print has the words of the page, the day of the check and numbered pages."""
    path = tmp_path / "record.pdf"
    content = record_bytes(path, record_html(record), day=WHEN.date())
    read = PdfReader(BytesIO(content))
    first = read.pages[0].extract_text()
    assert f"All {record.result.count} numbers agree within tolerance." in first
    assert f"1 of {len(read.pages)}" in first
    assert read.metadata is not None
    assert read.metadata.creation_date is not None
    assert read.metadata.creation_date.date() == WHEN.date()


def test_a_name_that_is_neither_page_nor_print_is_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One sentence; a print without a program that prints is refused before the work begins."""
    with pytest.raises(FormatError, match=r"record\.doc: a record is a page or a print; let the name end in"):
        check_record_name(tmp_path / "record.doc")
    check_record_name(tmp_path / "record.HTML")
    monkeypatch.setenv("PATH", str(tmp_path))
    with pytest.raises(FormatError, match="Chromium is not installed"):
        check_record_name(tmp_path / "record.pdf")
