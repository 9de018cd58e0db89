"""The benchmark of a million ratings reports what it measures, and detects losses after a kill."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from sqlalchemy import text

from correlate.database import address, connect, writing
from correlate.evaluation.evidence import CaseEvidence
from tests.benchmarks.million import Filled
from tests.benchmarks.million_records import Seed
from tests.benchmarks.million_upgrade import content, fill_old, upgrade_report
from tests.store.writer import numbered_record

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def old(tmp_path: Path) -> str:
    """Address of a store of format 5 with two releases."""
    records = [
        replace(numbered_record(number), release="A1", load_case="drop", channel=f"channel {number}")
        for number in range(6)
    ]
    evidence = CaseEvidence(campaign="KELP-M", release="A1", load_case="drop", state="", channels=())
    place = str(tmp_path / "ratings.sqlite")
    fill_old(place, Seed(records, [evidence]), 12)
    return place


def test_an_upgrade_that_is_killed_loses_nothing(old: str) -> None:
    """After a kill, the store has the old or the new format; in the end it has the new one."""
    lines = list(upgrade_report(old, (0.9,)))
    assert lines[0] == "12 ratings in format 5"
    assert lines[2].startswith("killed at 90%: format ")
    assert lines[-1] == "format 7, every row is there"


@pytest.mark.parametrize(
    "change",
    [
        "DELETE FROM entries WHERE id = 3",
        "UPDATE ratings SET overall = 0.125 WHERE key = (SELECT min(key) FROM ratings)",
        "UPDATE entries SET rating_key = (SELECT min(key) FROM ratings) WHERE id = 12",
    ],
)
def test_a_changed_row_is_noticed(old: str, change: str) -> None:
    """A row that is missing or has another value is detected as a loss."""
    before = content(old)
    engine = connect(address(old, "store"), noun="store", wait_s=1)
    with writing(engine) as connection:
        connection.execute(text(change))
    engine.dispose()
    assert not before.is_kept_in(content(old))


def test_the_exponent_of_insertion_is_that_of_the_total_time() -> None:
    """Releases of 100 ratings, whose times grow with the square root of the number of ratings."""
    counts = np.arange(1, 41) * 100
    spent = np.sqrt(counts - 50)
    words = list(Filled(counts.tolist(), spent.tolist(), spent.tolist()).words())
    assert words[-1] == "growth exponent of insertion time: 1.50 ± 0.00 (95 %)"
