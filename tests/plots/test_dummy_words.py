"""Dummies in words: what is overdue, results, what is to be looked at, settings."""

from __future__ import annotations

from collections import Counter
from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING

import pytest

from correlate import DueTest, KeptQualification, history, kept_qualifications, laboratory_overview
from correlate.plots import (
    due_words,
    overview_title,
    quantity_remarks,
    result_words,
    setting_facts,
    signals_words,
)
from tests.laboratory.books import kept, pushed, register_in
from tests.laboratory.test_timeline import SCATTER, filled

if TYPE_CHECKING:
    from pathlib import Path

DUE = DueTest(
    dummy="KM-W-002",
    type="KELP-M",
    test="pelvis push",
    last=date(2025, 3, 1),
    due=date(2026, 3, 1),
    tests_left=1,
    overdue=False,
    reason="due on 2026-03-01, 1 test left",
)


def result(folder: Path) -> KeptQualification:
    """Keep one push and return its result."""
    register = register_in(folder)
    kept(register, pushed(50.0))
    (found,) = kept_qualifications(register)
    return found


def test_the_title_counts_what_is_overdue(tmp_path: Path) -> None:
    """Without results both dummies are; on a day within the calibration the sensor is not; then all are."""
    register = register_in(tmp_path)
    assert overview_title(laboratory_overview(register, date(2025, 6, 1))) == "Overdue: 2 of 2 dummies"
    late = laboratory_overview(register, date(2027, 1, 1))
    assert overview_title(late) == "Overdue: 2 of 2 dummies, 1 of 1 sensor"
    empty = register_in(tmp_path, '[[dummy]]\nserial = "A"\ntype = "B"\n')
    assert overview_title(laboratory_overview(empty, date(2025, 6, 1))) == "Nothing is overdue"


@pytest.mark.parametrize(
    ("due", "words"),
    [
        (DUE, "due by 2026-03-01, 1 test left"),
        (replace(DUE, tests_left=None), "due by 2026-03-01"),
        (replace(DUE, due=None, tests_left=4), "4 tests left"),
        (replace(DUE, overdue=True, reason="was due on 2026-03-01"), "was due on 2026-03-01"),
    ],
)
def test_due_is_said_with_day_and_uses(due: DueTest, words: str) -> None:
    """Whichever the register asks for."""
    assert due_words(due) == words


@pytest.mark.parametrize(
    ("verdicts", "words"),
    [
        (("inside", "inside"), "inside all windows"),
        (("inside", "outside"), "1 of 2 quantities outside"),
        (("outside", "not measurable"), "1 of 2 quantities outside, 1 not measurable"),
        (("inside", "not measurable"), "1 of 2 quantities not measurable"),
        (("outside",), "1 of 1 quantity outside"),
    ],
)
def test_a_result_is_said_with_counts(tmp_path: Path, verdicts: tuple[str, ...], words: str) -> None:
    """Outside and not measurable are told apart."""
    one = result(tmp_path)
    quantities = tuple(one.quantities[0].model_copy(update={"verdict": verdict}) for verdict in verdicts)
    passed = all(verdict == "inside" for verdict in verdicts)
    assert result_words(one.model_copy(update={"quantities": quantities, "passed": passed})) == words


def test_signals_are_counted_where_there_are_several() -> None:
    """And nothing is said of nothing."""
    assert signals_words(Counter()) == ""
    found = Counter({"outside the window": 1, "drift": 3})
    assert signals_words(found) == "outside the window, drift (3 quantities)"  # type: ignore[arg-type]


def test_settings_have_words_and_units(tmp_path: Path) -> None:
    """What was not given is left out; a name without words is readable too."""
    one = result(tmp_path)
    given = {
        "preparation": {"time_zero_s": 0.25, "remove_offset": True, "start_s": None},
        "impact_velocity_m_per_s": 6.7,
        "other_name": 3,
    }
    assert setting_facts(one.model_copy(update={"settings": given})) == [
        ("Time zero", "0.25 s"),
        ("Offset removed", "yes"),
        ("Impact velocity", "6.7 m/s"),
        ("other name", "3"),
    ]


def test_remarks_begin_with_the_newest_value_and_end_with_the_next_test(tmp_path: Path) -> None:
    """An exchange after the newest test is named; what is overdue or outside is marked as open."""
    register = filled(tmp_path, [50 + one for one in SCATTER[:-1]] + [61.0])
    (test,) = history(register, "KM-W-002")
    (quantity,) = test.quantities
    since = quantity.exchanges[0].exchanges[0].model_copy(update={"date": date(2026, 2, 1), "part": "skin"})
    late = replace(DUE, overdue=True, reason="was due on 2026-03-01")
    found = quantity_remarks(quantity, exchanges=[since], due=[DUE, late])
    first, *_, third_last, second_last, last = found
    assert first.words.startswith(
        "Newest value: 61 g on 2025-12-15, outside its window of 40 to 60 g; control limits "
    )
    assert first.is_open
    assert third_last.words == "Exchange of skin (2026-02-01): no test since."
    assert second_last.words == "Next test: due by 2026-03-01, 1 test left."
    assert not second_last.is_open
    assert last.words == "Next test: overdue, was due on 2026-03-01."
    assert last.is_open


def test_few_results_have_no_control_limits(tmp_path: Path) -> None:
    """The sentence of the newest value ends with the window."""
    (test,) = history(filled(tmp_path, [50.0]), "KM-W-002")
    first = quantity_remarks(test.quantities[0])[0]
    assert first.words == "Newest value: 50 g on 2025-01-15, inside its window of 40 to 60 g."
    assert not first.is_open
