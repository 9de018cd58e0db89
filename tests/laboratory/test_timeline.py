"""The history of a dummy: results in order, parts at exchanges, and what is to be looked at."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate import history
from tests.laboratory.books import kept, pushed, register_in

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Register

DAYS = [f"2025-{month:02d}-15" for month in range(1, 13)]
SCATTER = [0.2, -0.3, 0.1, 0.0, -0.2, 0.3, -0.1, 0.2, -0.2, 0.1, 0.3, -0.1]


def filled(folder: Path, peaks: list[float]) -> Register:
    """Keep one push a month."""
    register = register_in(folder)
    for day, peak in zip(DAYS, peaks, strict=False):
        kept(register, pushed(peak, day=day, name=f"P{day}"))
    return register


def test_an_exchange_separates_parts_and_shows_what_it_moved(tmp_path: Path) -> None:
    """Rib set exchanged on 1 June: five tests before it, seven after it, 4 g apart."""
    register = filled(tmp_path, [50 + one + (4 if at >= 5 else 0) for at, one in enumerate(SCATTER)])
    (found,) = history(register, "KM-T-004")
    (quantity,) = found.quantities
    assert (found.dummy.serial, found.test, len(found.results)) == ("KM-W-002", "pelvis push", 12)
    (exchange,) = quantity.exchanges
    assert (exchange.at, exchange.words) == (5, "rib set")
    assert exchange.effect is not None
    assert exchange.effect.is_distinguishable
    assert exchange.effect.lower < 4 < exchange.effect.upper
    assert quantity.chart is not None
    assert quantity.chart.centre[5] - quantity.chart.centre[4] == pytest.approx(4.0, abs=0.3)
    assert not found.has_signal


def test_an_exchange_that_moved_nothing_is_not_distinguishable(tmp_path: Path) -> None:
    """Its interval holds 0."""
    (found,) = history(filled(tmp_path, [50 + one for one in SCATTER]), "KM-W-002")
    effect = found.quantities[0].exchanges[0].effect
    assert effect is not None
    assert not effect.is_distinguishable


def test_a_drift_and_a_newest_value_outside_are_to_be_looked_at(tmp_path: Path) -> None:
    """A drift of 8 g a year; then a steady series whose newest value is outside its window."""
    (drifting,) = history(
        filled(tmp_path, [50 + 8 * at / 12 + one for at, one in enumerate(SCATTER)]), "KM-W-002"
    )
    quantity = drifting.quantities[0]
    assert quantity.changes.is_drift
    assert quantity.changes.drift is not None
    assert quantity.changes.drift.value == pytest.approx(8.0, abs=1.5)
    assert drifting.has_signal
    folder = tmp_path / "other"
    folder.mkdir()
    (outside,) = history(filled(folder, [50.0, 50.1, 61.0]), "KM-W-002")
    assert outside.quantities[0].inside == (True, True, False)
    assert outside.has_signal
    assert outside.quantities[0].chart is None


def test_a_test_on_the_day_of_an_exchange_is_after_it(tmp_path: Path) -> None:
    """Of two tests, one the day before and one on the day, the second begins a new part."""
    register = register_in(tmp_path)
    for day in ("2025-05-31", "2025-06-01"):
        kept(register, pushed(50.0, day=day, name=f"P{day}"))
    (found,) = history(register, "KM-W-002")
    assert [one.at for one in found.quantities[0].exchanges] == [1]


def test_a_dummy_without_results_has_no_history(tmp_path: Path) -> None:
    """Nor has one whose tests are not asked for."""
    register = filled(tmp_path, [50.0])
    assert history(register, "KM-W-003") == ()
    assert history(register, "KM-W-002", test="head") == ()
    assert len(history(register, "KM-W-002", test="Push")) == 1
