"""The state of all dummies of a laboratory: last result, what is due, open signals."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.display import short_repr
from correlate.laboratory.due import due_among
from correlate.laboratory.log import kept_qualifications
from correlate.laboratory.register import is_part
from correlate.laboratory.timeline import dummy_history

if TYPE_CHECKING:
    from datetime import date

    from correlate.laboratory.due import DueList, DueTest
    from correlate.laboratory.log import KeptQualification
    from correlate.laboratory.register import Dummy, Exchange, Register
    from correlate.laboratory.timeline import OpenSignal, TestHistory


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class DummyState:
    """One dummy on a day.

    Attributes
    ----------
    dummy
        From the register.
    tests
        Its results over time, by name of the test.
    due
        Its qualification tests; what is overdue first, then by the day on which it is due.
    """

    dummy: Dummy
    tests: tuple[TestHistory, ...]
    due: tuple[DueTest, ...]

    @property
    def results(self) -> tuple[KeptQualification, ...]:
        """Results of all tests, the newest first."""
        found = [one for test in self.tests for one in test.results]
        return tuple(sorted(found, key=lambda one: (one.date, one.recording, one.test), reverse=True))

    @property
    def exchanges(self) -> tuple[Exchange, ...]:
        """Its exchanged parts, the oldest first."""
        return tuple(sorted(self.dummy.exchange, key=lambda one: one.date))

    @property
    def overdue(self) -> tuple[DueTest, ...]:
        """Tests that have to be done before the dummy is used again."""
        return tuple(one for one in self.due if one.overdue)

    def due_of(self, test: str) -> tuple[DueTest, ...]:
        """Return what is due of a test, which the register may name by a part of its name."""
        return tuple(one for one in self.due if is_part(one.test, test))

    @property
    def signals(self) -> Counter[OpenSignal]:
        """Number of quantities with each open signal."""
        return Counter(
            signal for test in self.tests for one in test.quantities for signal in one.open_signals
        )


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class LaboratoryOverview:
    """The dummies and sensors of a laboratory on a day.

    Attributes
    ----------
    register
        Of the laboratory.
    dummies
        Overdue ones first, then those with open signals, then in the order of the register.
    due
        Everything that is due, sensors included.
    """

    register: Register
    dummies: tuple[DummyState, ...]
    due: DueList


def laboratory_overview(register: Register, day: date) -> LaboratoryOverview:
    """Return the state of every dummy of a laboratory.

    Parameters
    ----------
    register
        Of the laboratory, whose log is read once.
    day
        On which day; results of later days are left out.

    Returns
    -------
    LaboratoryOverview

    Raises
    ------
    FormatError
        A file of the log is damaged.
    """
    kept = [one for one in kept_qualifications(register) if one.date <= day]
    due = due_among(register, kept, day)
    states = [
        DummyState(
            dummy=dummy,
            tests=dummy_history(dummy, kept),
            due=tuple(one for one in due.tests if one.dummy == dummy.serial),
        )
        for dummy in register.dummies
    ]
    states.sort(key=lambda one: (not one.overdue, not one.signals))
    return LaboratoryOverview(register=register, dummies=tuple(states), due=due)
