"""What is due: by months, by number of tests, after an exchange, after a result outside its windows."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

import pytest

from correlate import due_in
from correlate.laboratory.due import later_by
from tests.laboratory.books import REGISTER, kept, pushed, register_in

if TYPE_CHECKING:
    from pathlib import Path

NO_EXCHANGE = REGISTER.replace("exchange = [", "exchange = []\n#").replace(
    "  {date = 2025-06-01", "# {date = 2025-06-01"
)
NO_EXCHANGE = NO_EXCHANGE.replace('tests = ["pelvis"]},\n]\n', 'tests = ["pelvis"]},\n')


@pytest.mark.parametrize(
    ("day", "overdue", "reason"),
    [
        (date(2025, 3, 2), False, "due on 2026-03-01, 10 tests left"),
        (date(2025, 7, 1), False, "due on 2026-03-01, 2 tests left"),
        (date(2026, 3, 1), False, "due on 2026-03-01, 2 tests left"),
        (date(2026, 3, 2), True, "was due on 2026-03-01"),
        (date(2025, 2, 28), True, "no result is saved"),
    ],
)
def test_a_test_is_due_by_months_or_number(tmp_path: Path, day: date, reason: str, *, overdue: bool) -> None:
    """The last day still counts; results after the day asked for do not."""
    register = register_in(tmp_path, NO_EXCHANGE)
    kept(register, pushed(50.0))
    (one,) = [one for one in due_in(register, day).tests if one.dummy == "KM-W-002"]
    assert (one.overdue, one.reason) == (overdue, reason)


def test_a_number_of_tests_is_used_up(tmp_path: Path) -> None:
    """Eight and two uses make ten."""
    register = register_in(
        tmp_path, NO_EXCHANGE.replace("tests = 8}]", "tests = 8}, {date = 2025-08-01, tests = 2}]")
    )
    kept(register, pushed(50.0))
    (one,) = [one for one in due_in(register, date(2025, 9, 1)).tests if one.dummy == "KM-W-002"]
    assert (one.tests_left, one.overdue) == (0, True)


def test_an_exchange_makes_its_tests_due(tmp_path: Path) -> None:
    """From the day of the exchange, until the test is done again."""
    register = register_in(tmp_path)
    kept(register, pushed(50.0))
    (before,) = [one for one in due_in(register, date(2025, 5, 31)).tests if one.dummy == "KM-W-002"]
    (after,) = [one for one in due_in(register, date(2025, 6, 1)).tests if one.dummy == "KM-W-002"]
    assert not before.overdue
    assert after.reason == "rib set exchanged on 2025-06-01, after the newest result"
    kept(register, pushed(51.0, day="2025-06-02", name="P2"))
    (again,) = [one for one in due_in(register, date(2025, 6, 2)).tests if one.dummy == "KM-W-002"]
    assert not again.overdue


def test_a_result_outside_its_windows_makes_the_test_due(tmp_path: Path) -> None:
    """At once."""
    register = register_in(tmp_path)
    kept(register, pushed(70.0))
    (one,) = [one for one in due_in(register, date(2025, 3, 1)).tests if one.dummy == "KM-W-002"]
    assert one.reason == "the newest result is not inside all windows"


def test_a_sensor_is_overdue_after_its_last_day(tmp_path: Path) -> None:
    """By its latest calibration, whatever there was before."""
    register = register_in(tmp_path)
    assert [due_in(register, day).sensors[0].overdue for day in (date(2026, 1, 20), date(2026, 1, 21))] == [
        False,
        True,
    ]
    assert due_in(register, date(2026, 1, 21)).has_overdue


def test_months_end_where_the_month_does() -> None:
    """From the last day of a long month to the last of a short one, and across years."""
    assert later_by(date(2027, 11, 30), 3) == date(2028, 2, 29)
    assert later_by(date(2026, 12, 15), 12) == date(2027, 12, 15)


def test_a_sensor_is_judged_by_its_calibration_on_that_day(tmp_path: Path) -> None:
    """Two calibrations with ten days between them: valid, overdue, valid; before the first one overdue."""
    register = register_in(tmp_path)
    found = {day: due_in(register, day).sensors[0] for day in map(date.fromisoformat, DAYS_OF_A_SENSOR)}
    assert [one.overdue for one in found.values()] == [True, False, True, False]
    assert [one.sensitivity for one in found.values()] == [2.0, 2.0, 2.0, 2.1]
    assert found[date(2025, 1, 15)].due == date(2025, 1, 10)


DAYS_OF_A_SENSOR = ("2024-01-09", "2025-01-10", "2025-01-15", "2025-01-20")
