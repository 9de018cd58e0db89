"""All dummies at a glance: order, last result, what is due and what is to be looked at."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from correlate import due_in, history, laboratory_overview
from tests.laboratory.books import WINDOWS, kept, pushed, register_in

if TYPE_CHECKING:
    from pathlib import Path

DAYS = [f"2025-{month:02d}-15" for month in range(6, 13)]


def test_of_two_overdue_dummies_the_one_with_signals_comes_first(tmp_path: Path) -> None:
    """KM-W-002 has six results, the newest outside its window; KM-W-003 has none, which is overdue too."""
    register = register_in(tmp_path)
    for day, peak in zip(DAYS, [50.0, 50.2, 49.9, 50.1, 49.8, 61.0], strict=False):
        kept(register, pushed(peak, day=day, name=day))
    found = laboratory_overview(register, date(2025, 11, 20))
    first, second = found.dummies
    assert (first.dummy.serial, second.dummy.serial) == ("KM-W-002", "KM-W-003")
    assert [one.overdue for one in first.due] == [True]
    assert first.results[0].date == date(2025, 11, 15)
    assert [one.date for one in first.results] == sorted((one.date for one in first.results), reverse=True)
    assert dict(first.signals) == {"outside the window": 1, "alarm of the control chart": 1}
    assert second.results == ()
    assert [one.reason for one in second.overdue] == ["no result is saved"]
    assert not second.signals


def test_signals_come_before_quiet_dummies_and_the_register_decides_the_rest(tmp_path: Path) -> None:
    """Nothing is due without intervals: the third dummy drifts, so it is listed first."""
    text = "\n".join(f'[[dummy]]\nserial = "KM-W-{one}"\ntype = "KELP-M"' for one in ("002", "003", "004"))
    register = register_in(tmp_path, text)
    for serial, slope in (("002", 0.0), ("004", 1.0)):
        for at, (day, scatter) in enumerate(zip(DAYS, [0.1, -0.1, 0.05, -0.05, 0.1, 0.0, -0.1], strict=True)):
            recording = pushed(50 + slope * at + scatter, day=day, dummy=f"KM-W-{serial}", name=serial + day)
            kept(register, recording)
    found = laboratory_overview(register, date(2026, 1, 1))
    assert [one.dummy.serial for one in found.dummies] == ["KM-W-004", "KM-W-002", "KM-W-003"]
    assert found.dummies[0].signals["drift"] == 1


def test_it_is_what_history_and_due_say(tmp_path: Path) -> None:
    """The log is read once, with the same outcome as by the single functions."""
    register = register_in(tmp_path)
    kept(register, pushed(50.0, day="2025-03-01"))
    day = date(2025, 5, 1)
    found = laboratory_overview(register, day)
    assert found.due == due_in(register, day)
    by_serial = {one.dummy.serial: one for one in found.dummies}
    assert by_serial["KM-W-002"].tests == history(register, "KM-W-002")


def test_windows_are_those_of_each_day(tmp_path: Path) -> None:
    """A window that was narrowed judges later results only."""
    register = register_in(tmp_path)
    kept(register, pushed(58.0, day="2025-03-01"))
    kept(register, pushed(58.0, day="2025-04-01", name="P2"), windows=WINDOWS.replace("[40, 60]", "[45, 55]"))
    (test,) = history(register, "KM-W-002")
    assert test.quantities[0].windows == ((40.0, 60.0), (45.0, 55.0))
    assert test.quantities[0].inside == (True, False)
    assert test.quantities[0].open_signals == ("outside the window",)
