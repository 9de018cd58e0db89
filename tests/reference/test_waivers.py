"""Waivers: accepted findings, one line per finding."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from correlate import load_waivers, with_waivers
from correlate.errors import FormatError
from correlate.reference.check import ChannelSummary, CheckOutcome
from correlate.reference.finding import Finding, Kind

if TYPE_CHECKING:
    from pathlib import Path

LINE = '{ test = "T2", channel = "ax", finding = "offset", who = "lab", date = 2026-01-02, why = "cold day" }'


def written(folder: Path, *lines: str) -> Path:
    """Write a file of waivers and return it."""
    file = folder / "waivers.toml"
    file.write_text("waivers = [\n" + "".join(f"  {line},\n" for line in lines) + "]\n", encoding="utf-8")
    return file


def finding(test: str, channel: str = "ax", kind: Kind = "offset") -> Finding:
    """Return an error in a test."""
    return Finding(
        kind=kind, severity="error", file=f"lab/{test}.csv", channel=channel, what="is off", remedy="look"
    )


def outcome(*findings: Finding) -> CheckOutcome:
    """Return a check of two tests with these findings."""
    channels = [
        ChannelSummary(
            file=f"lab/{test}.csv",
            channel="ax",
            unit="g",
            sha256="0" * 64,
            samples=10,
            step_s=1e-4,
            start_s=0.0,
            peak=1.0,
            peak_s=0.0,
            onset_s=0.0,
            offset=None,
            noise=None,
            count_size=None,
            effective_bits=None,
        )
        for test in ("T1", "T2")
    ]
    return CheckOutcome(findings=findings, channels=tuple(channels), load_cases={"drop": ("T1", "T2")})


def test_a_waived_error_is_no_error_and_is_listed(tmp_path: Path) -> None:
    """Only the finding of that test, channel and kind is taken out; the rest stays open."""
    book = load_waivers(written(tmp_path, LINE))
    found = with_waivers(outcome(finding("T1"), finding("T2"), finding("T2", kind="spike")), book)
    assert [(one.file, one.kind) for one in found.findings] == [
        ("lab/T1.csv", "offset"),
        ("lab/T2.csv", "spike"),
    ]
    assert found.has_errors
    (waived,) = found.waived
    assert waived.finding.file == "lab/T2.csv"
    assert waived.waiver.words == "waived by lab on 2026-01-02: cold day"
    assert found.in_words.endswith("2 errors, 0 warnings, 0 notes, 1 waived")
    assert not with_waivers(outcome(finding("T2")), book).has_errors


def test_a_waiver_whose_finding_is_gone_is_told(tmp_path: Path) -> None:
    """It is unused only where its test was checked."""
    other = LINE.replace('"T2"', '"T9"')
    book = load_waivers(written(tmp_path, LINE, other))
    assert [one.test for one in with_waivers(outcome(), book).unused_waivers] == ["T2"]


def test_a_folder_without_the_file_has_no_waivers(tmp_path: Path) -> None:
    """Nothing is waived by default."""
    assert load_waivers(tmp_path).waivers == ()


@pytest.mark.parametrize(
    ("lines", "words"),
    [
        ([LINE.replace('"lab"', '" "')], "who"),
        ([LINE.replace('"cold day"', '""')], "why"),
        ([LINE.replace('"offset"', '"ofset"')], "finding"),
        ([LINE.replace("who =", "whom =")], "whom"),
        ([LINE, LINE], "waived twice"),
        ([LINE.replace("2026-01-02", f"{datetime.now(UTC).date() + timedelta(days=3)}")], "in the future"),
    ],
)
def test_a_waiver_that_nobody_answers_for_is_refused(tmp_path: Path, lines: list[str], words: str) -> None:
    """Empty words, unknown kinds and keys, doubles and days to come are mistakes, named with the file."""
    with pytest.raises(FormatError, match=words) as refused:
        load_waivers(written(tmp_path, *lines))
    assert "waivers.toml" in str(refused.value)
