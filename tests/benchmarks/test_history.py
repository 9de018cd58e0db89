"""The tables of measured rows, one a version, and the page that compares them."""

from __future__ import annotations

import sys
from dataclasses import replace
from typing import TYPE_CHECKING

from tests.benchmarks import __main__ as program
from tests.benchmarks import history
from tests.benchmarks.table import row_of

if TYPE_CHECKING:
    from pathlib import Path

    import pytest

ROW = history.Record(
    group="rating",
    name="one rating",
    quantity="ratio",
    value="5.16",
    lowest="5.01",
    highest="5.30",
    goal="4",
    ours_ms="0.437",
    peer_ms="2.25",
    adds_mb="",
    date="2026-11-30",
    cores="2",
    memory_gb="24",
    processor="a processor",
    busy="no",
)


def test_rows_are_read_as_they_were_saved(tmp_path: Path) -> None:
    """Every field comes back."""
    rows = [ROW, replace(ROW, name="another, with a comma", goal="")]
    history.save(tmp_path / "1.0.csv", rows)
    assert history.read(tmp_path / "1.0.csv") == rows


def test_a_row_replaces_only_its_own_earlier_one(tmp_path: Path) -> None:
    """The same row on the same machine is replaced in its place; another machine or name is appended."""
    path = tmp_path / "1.0.csv"
    other, elsewhere, again = (
        replace(ROW, name="other"),
        replace(ROW, cores="64"),
        replace(ROW, value="6.9", busy="yes"),
    )
    history.save(path, [ROW, other])
    history.save(path, [elsewhere, again])
    assert history.read(path) == [again, other, elsewhere]


def test_the_page_compares_versions_machine_by_machine() -> None:
    """Newest version first, by number; missed goals and busy machines are marked; a missing row is a dash."""
    slow = replace(ROW, value="3.1", busy="yes")
    text = history.page({"0.9.0": [slow, replace(ROW, cores="64")], "0.10.0": [ROW]})
    assert "| group | what | | goal | 0.10.0 | 0.9.0 |" in text
    assert "## 2 cores, 24 GB, a processor" in text
    assert (
        "| rating | one rating | ratio | 4 | 5.16 (5.01–5.30) | 3.1 (5.01–5.30), goal missed, busy |" in text
    )
    assert "| rating | one rating | ratio | 4 | – | 5.16 (5.01–5.30) |" in text


def test_the_committed_page_is_that_of_the_committed_tables() -> None:
    """``python -m tests.benchmarks.history`` writes it."""
    assert history.PAGE.read_text(encoding="utf-8") == history.page(history.saved_tables())


def test_measured_rows_are_saved_with_their_machine(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A run with --save --busy on a busy machine appends a marked row and writes the page."""
    measured = row_of("one rating", [(0.001, 0.005), (0.001, 0.006), (0.001, 0.007)], goal=4.0)
    monkeypatch.setattr(sys, "argv", ["benchmarks", "--save", "--busy", "rating"])
    monkeypatch.setattr(program, "why_busy", lambda *_: "something runs")
    monkeypatch.setattr(program, "ROWS", {"rating": lambda: [measured]})
    monkeypatch.setattr(program, "SAVED", tmp_path / "1.0.csv")
    monkeypatch.setattr(history, "FOLDER", tmp_path)
    monkeypatch.setattr(history, "PAGE", tmp_path / "index.md")
    program.main()
    (row,) = history.read(tmp_path / "1.0.csv")
    assert (row.value, row.lowest, row.highest, row.goal, row.busy) == ("6.00", "5.00", "7.00", "4", "yes")
    assert row.processor
    assert "6.00 (5.00–7.00), busy" in (tmp_path / "index.md").read_text(encoding="utf-8")
