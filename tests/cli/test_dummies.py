"""``correlate dummies``: list, show, due and chart, in words, JSON, CSV and as a page."""

from __future__ import annotations

import csv
import json
from typing import TYPE_CHECKING

import pytest

from tests.laboratory.books import kept, pushed, register_in
from tests.laboratory.test_timeline import DAYS, SCATTER, filled

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]


@pytest.fixture
def laboratory(tmp_path: Path) -> Path:
    """Keep a year of one dummy: 4 g more from the exchange of the rib set on."""
    filled(tmp_path, [50 + one + (4 if at >= 5 else 0) for at, one in enumerate(SCATTER)])
    return tmp_path


def test_the_list_says_what_is_overdue(correlate: Run, laboratory: Path) -> None:
    """In words and as JSON, on the day that is asked for."""
    out = correlate("dummies", "list", "--register", laboratory, "--on", "2026-01-01").out
    text = " ".join(out.split())
    assert "Kelpwick Impact Laboratory" in text
    assert "KM-W-002 KELP-M B 1 2025-12-15 nothing overdue" in text
    assert "KM-W-003 KELP-M – 0 – overdue: pelvis push, no result is saved" in text
    told = json.loads(correlate("dummies", "list", "--register", laboratory, "--json").out)
    assert [one["serial"] for one in told["dummies"]] == ["KM-W-002", "KM-W-003"]


def test_show_lists_exchanges_and_results(correlate: Run, laboratory: Path) -> None:
    """A body part names the dummy; a dummy without results says how to keep some."""
    out = " ".join(correlate("dummies", "show", "KM-T-004", "--register", laboratory).out.split())
    assert "2025-06-01: rib set exchanged (worn; lab)" in out
    assert f"{DAYS[0]} P{DAYS[0]} 1 of 1" in out
    assert "do not certify" in out
    assert "No result is saved" in correlate("dummies", "show", "KM-W-003", "--register", laboratory).out


def test_due_ends_with_one_if_something_is_overdue(correlate: Run, tmp_path: Path) -> None:
    """A dummy that was never qualified is; a laboratory without intervals and sensors has nothing due."""
    register_in(tmp_path)
    outcome = correlate("dummies", "due", "--register", tmp_path, "--on", "2025-12-01")
    assert outcome.code == 1
    assert "AC-101 ??PELV??????ACZ? 2025-01-20 2026-01-20 in time" in " ".join(outcome.out.split())
    assert correlate("dummies", "due", "--register", tmp_path, "--json").code == 1
    register_in(tmp_path, '[[dummy]]\nserial = "A"\ntype = "B"\n')
    assert correlate("dummies", "due", "--register", tmp_path).code == 0


def test_chart_says_what_changed(correlate: Run, laboratory: Path) -> None:
    """The exchange moved it by 4 g; neither drift nor step is left."""
    outcome = correlate("dummies", "chart", "KM-W-002", "--register", laboratory)
    assert outcome.code == 0
    text = " ".join(outcome.out.split())
    assert "Control chart: no alarm." in text
    assert "Drift per year: not distinguishable" in text
    assert "Exchange of rib set (2025-06-01): +4" in text
    assert "those of exchanges for all exchanges and quantities of the dummy" in text


def test_chart_is_written_as_json_csv_and_page(correlate: Run, laboratory: Path) -> None:
    """The same numbers in each."""
    table, page = laboratory / "chart.csv", laboratory / "chart.html"
    outcome = correlate(
        "dummies", "chart", "KM-W-002", "--register", laboratory, "--csv", table, "--html", page, "--json"
    )
    (test,) = json.loads(outcome.out)["tests"]
    (quantity,) = test["quantities"]
    with table.open(encoding="utf-8") as stream:
        rows = list(csv.DictReader(stream))
    assert [float(row["value"]) for row in rows] == quantity["values"]
    assert [float(row["mean"]) for row in rows] == quantity["chart"]["centre"]
    assert [row["moving_range"] for row in rows][5] == ""
    assert quantity["exchanges"][0]["distinguishable"] is True
    text = page.read_text(encoding="utf-8")
    for words in (*quantity["sentences"], "Peak of the pelvis acceleration", "Window 40 to 60 g", "certify"):
        assert words in text


def test_a_chart_of_nothing_is_refused(correlate: Run, laboratory: Path) -> None:
    """An unknown dummy, and tests without saved results: one sentence, exit code 2."""
    outcome = correlate("dummies", "chart", "KM-W-002", "--test", "head", "--register", laboratory)
    assert outcome.code == 2
    assert "no result of dummy 'KM-W-002' and a test 'head' is saved" in outcome.err
    assert correlate("dummies", "chart", "KM-X", "--register", laboratory).code == 2
    absent = correlate("dummies", "list", "--register", laboratory / "other.toml")
    assert absent.code == 2
    assert "other.toml: cannot be read" in absent.err


def test_a_result_outside_is_named(correlate: Run, tmp_path: Path) -> None:
    """In the list of results, with its value, and in the sentences."""
    register = register_in(tmp_path)
    kept(register, pushed(70.0))
    out = " ".join(correlate("dummies", "show", "KM-W-002", "--register", tmp_path).out.split())
    assert "peak of the pelvis acceleration 70 g" in out
    chart = " ".join(correlate("dummies", "chart", "KM-W-002", "--register", tmp_path).out.split())
    assert "Outside the window: 2025-03-01." in chart
    assert "Too few tests for control limits." in chart
    assert "Drift per year: too few tests." in chart
