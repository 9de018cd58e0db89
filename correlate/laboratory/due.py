"""What is due: qualification tests of dummies and calibrations of sensors."""

from __future__ import annotations

import calendar
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING

from correlate.display import short_repr
from correlate.laboratory.log import kept_qualifications

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.laboratory.log import KeptQualification
    from correlate.laboratory.register import Dummy, Interval, Register, Sensor


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class DueTest:
    """One qualification test of a dummy that the register asks for.

    Attributes
    ----------
    dummy, type
        Serial number and type of device.
    test
        As the register names it.
    last
        Day of the newest result; None where there is none.
    due
        Last day on which that result is valid; None where the register gives no months or there is none.
    tests_left
        Uses until it is due; None where the register gives no number or there is no result.
    overdue
        Whether the dummy has to be qualified before it is used again.
    reason
        One clause that says why it is overdue, or until when it is not.
    """

    dummy: str
    type: str
    test: str
    last: date | None
    due: date | None
    tests_left: int | None
    overdue: bool
    reason: str


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class DueSensor:
    """The calibration of a sensor.

    Attributes
    ----------
    serial, channel
        Of the sensor.
    calibrated, due, sensitivity
        Of its latest calibration up to the day, sensitivity in the unit of the register.
    overdue
        Whether it is not valid on the day.
    """

    serial: str
    channel: str
    calibrated: date
    due: date
    sensitivity: float
    overdue: bool


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class DueList:
    """What is due in a laboratory on a day.

    Attributes
    ----------
    day
        The day.
    tests
        Of every dummy; what is overdue first, then by the day on which it is due.
    sensors
        In the same order.
    """

    day: date
    tests: tuple[DueTest, ...]
    sensors: tuple[DueSensor, ...]

    @property
    def has_overdue(self) -> bool:
        """Whether anything is overdue."""
        return any(one.overdue for one in self.tests) or any(one.overdue for one in self.sensors)


def due_in(register: Register, day: date) -> DueList:
    """Return which qualification tests and calibrations are due.

    Parameters
    ----------
    register
        Of the laboratory; says how often dummies are qualified.
    day
        On which day.

    Returns
    -------
    DueList

    Raises
    ------
    FormatError
        A file of the log is damaged.
    """
    return due_among(register, kept_qualifications(register), day)


def due_among(register: Register, results: Sequence[KeptQualification], day: date) -> DueList:
    """Return what is due, out of the results of the whole log."""
    kept = [one for one in results if one.date <= day]
    tests = [
        _due_test(dummy, interval, kept, day)
        for dummy in register.dummies
        for interval in register.intervals
        if interval.is_for(dummy)
    ]
    sensors = [_due_sensor(one, day) for one in register.sensors]
    return DueList(
        day=day,
        tests=tuple(sorted(tests, key=lambda one: (not one.overdue, one.due or date.max, one.dummy))),
        sensors=tuple(sorted(sensors, key=lambda one: (not one.overdue, one.due, one.serial))),
    )


def _due_sensor(sensor: Sensor, day: date) -> DueSensor:
    """Return what is due of a sensor; before its first calibration, that one."""
    calibration = sensor.calibration_on(day) or min(sensor.calibration, key=lambda one: one.date)
    return DueSensor(
        serial=sensor.serial,
        channel=sensor.channel,
        calibrated=calibration.date,
        due=calibration.due,
        sensitivity=calibration.sensitivity,
        overdue=not calibration.date <= day <= calibration.due,
    )


def _due_test(dummy: Dummy, interval: Interval, kept: Sequence[KeptQualification], day: date) -> DueTest:
    own = [one for one in kept if one.dummy == dummy.serial and interval.concerns(one.test)]
    last = own[-1] if own else None
    until = None if last is None or interval.months is None else later_by(last.date, interval.months)
    used = sum(one.tests for one in dummy.use if last and last.date < one.date <= day)
    left = None if last is None or interval.tests is None else interval.tests - used
    why = _why_overdue(dummy, last, until, left, day)
    return DueTest(
        dummy=dummy.serial,
        type=dummy.type,
        test=interval.test,
        last=None if last is None else last.date,
        due=until,
        tests_left=left,
        overdue=bool(why),
        reason=why or _until_when(until, left),
    )


def _why_overdue(
    dummy: Dummy, last: KeptQualification | None, until: date | None, left: int | None, day: date
) -> str:
    """Return why a dummy has to be qualified; empty where it has not."""
    if last is None:
        return "no result is saved"
    if not last.passed:
        return "the newest result is not inside all windows"
    later = [one for one in dummy.exchanges(last.test) if last.date < one.date <= day]
    if later:
        return f"{later[-1].part} exchanged on {later[-1].date.isoformat()}, after the newest result"
    if until is not None and until < day:
        return f"was due on {until.isoformat()}"
    if left is not None and left <= 0:
        return "the number of tests is reached"
    return ""


def _until_when(until: date | None, left: int | None) -> str:
    parts = []
    if until is not None:
        parts.append(f"due on {until.isoformat()}")
    if left is not None:
        parts.append(f"{left} {'test' if left == 1 else 'tests'} left")
    return ", ".join(parts)


def later_by(day: date, months: int) -> date:
    """Return the day so many months later; the last of the month where it is shorter.

    Examples
    --------
    >>> later_by(date(2026, 1, 31), 1)
    datetime.date(2026, 2, 28)
    """
    years, month = divmod(day.month - 1 + months, 12)
    year = day.year + years
    return date(year, month + 1, min(day.day, calendar.monthrange(year, month + 1)[1]))
