"""Dummies over time in words: what is due, open signals, the effect of exchanged parts."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.plots.history_words import Remark, history_remarks, quantity_words
from correlate.plots.laboratory_words import rounded, with_unit
from correlate.plots.wording import number

if TYPE_CHECKING:
    from collections import Counter
    from collections.abc import Sequence

    from correlate.laboratory import (
        DueTest,
        Exchange,
        KeptQualification,
        LaboratoryOverview,
        QuantityHistory,
    )
    from correlate.laboratory.timeline import OpenSignal


def overview_title(overview: LaboratoryOverview) -> str:
    """Say how many dummies and sensors are overdue.

    Parameters
    ----------
    overview
        Of a laboratory on a day.

    Returns
    -------
    str
        For instance ``Overdue: 1 of 2 dummies, 2 of 14 sensors``.
    """
    dummies = sum(bool(one.overdue) for one in overview.dummies)
    sensors = sum(one.overdue for one in overview.due.sensors)
    parts = [
        f"{late} of {_count(total, word)}"
        for late, total, word in (
            (dummies, len(overview.dummies), "dummy"),
            (sensors, len(overview.due.sensors), "sensor"),
        )
        if late
    ]
    return f"Overdue: {', '.join(parts)}" if parts else "Nothing is overdue"


def signals_words(signals: Counter[OpenSignal]) -> str:
    """Say what is to be looked at, and in how many quantities where there are several.

    Parameters
    ----------
    signals
        Of a dummy.

    Returns
    -------
    str
        Empty where there is none.

    Examples
    --------
    >>> from collections import Counter
    >>> signals_words(Counter({"drift": 2, "step": 1}))
    'drift (2 quantities), step'
    """
    return ", ".join(
        name if count == 1 else f"{name} ({_count(count, 'quantity')})" for name, count in signals.items()
    )


def due_words(due: DueTest) -> str:
    """Say when a test is due, or why it is overdue.

    Parameters
    ----------
    due
        Of a dummy.

    Returns
    -------
    str
        For instance ``due by 2026-03-01, 2 tests left``.
    """
    if due.overdue:
        return due.reason
    parts = [] if due.due is None else [f"due by {due.due.isoformat()}"]
    if due.tests_left is not None:
        parts.append(f"{_count(due.tests_left, 'test')} left")
    return ", ".join(parts)


def result_words(result: KeptQualification) -> str:
    """Say how a qualification test ended.

    Parameters
    ----------
    result
        From the log.

    Returns
    -------
    str
        For instance ``1 of 4 quantities outside``.
    """
    if result.passed:
        return "inside all windows"
    outside = sum(one.verdict == "outside" for one in result.quantities)
    lacking = sum(one.verdict == "not measurable" for one in result.quantities)
    total = _count(len(result.quantities), "quantity")
    parts = [f"{outside} of {total} outside"] if outside else []
    if lacking:
        parts.append(f"{lacking} not measurable" if outside else f"{lacking} of {total} not measurable")
    return ", ".join(parts)


_SETTINGS: Final[dict[str, tuple[str, str]]] = {
    "time_zero_s": ("Time zero", "s"),
    "remove_offset": ("Offset removed", "1"),
    "start_s": ("Evaluated from", "s"),
    "end_s": ("Evaluated to", "s"),
    "impact_velocity_m_per_s": ("Impact velocity", "m/s"),
}
"""Words and unit of each setting of a kept result."""


def setting_facts(result: KeptQualification) -> list[tuple[str, str]]:
    """Return the settings that a result was computed with, as names and values.

    Parameters
    ----------
    result
        From the log.

    Returns
    -------
    list of (str, str)
        Settings that were not given are left out.
    """
    flat: dict[str, object] = {}
    for name, value in result.settings.items():
        flat |= value if isinstance(value, dict) else {name: value}
    found = []
    for name, value in flat.items():
        if value is None:
            continue
        words, unit = _SETTINGS.get(name, (name.replace("_", " "), "1"))
        text = ("yes" if value else "no") if isinstance(value, bool) else str(value)
        found.append((words, with_unit(text, unit)))
    return found


def quantity_remarks(
    history: QuantityHistory, *, exchanges: Sequence[Exchange] = (), due: Sequence[DueTest] = ()
) -> list[Remark]:
    """Say what a quantity of a qualification test shows over time.

    Parameters
    ----------
    history
        Of the quantity.
    exchanges
        All parts that can influence it; those since the newest test are named.
    due
        When its test is due.

    Returns
    -------
    list of Remark
        Newest value, control limits, drift, step, exchanged parts, next test.
    """
    since = [one for one in exchanges if one.date > history.dates[-1]]
    return [
        _newest(history),
        *history_remarks(history),
        *(Remark(words=f"Exchange of {one.part} ({one.date.isoformat()}): no test since.") for one in since),
        *(Remark(words=f"Next test: {_due_clause(one)}.", is_open=one.overdue) for one in due),
    ]


def _due_clause(due: DueTest) -> str:
    return f"overdue, {due_words(due)}" if due.overdue else due_words(due)


def _newest(history: QuantityHistory) -> Remark:
    low, high = history.windows[-1]
    value = f"{quantity_words(history.values[-1], history.unit)} on {history.dates[-1].isoformat()}"
    window = with_unit(f"{rounded(low)} to {rounded(high)}", history.unit)
    inside = history.inside[-1]
    words = f"Newest value: {value}, {'inside' if inside else 'outside'} its window of {window}"
    if history.chart is not None:
        lower, upper = history.chart.lower[-1], history.chart.upper[-1]
        limits = with_unit(f"{rounded(lower)} to {rounded(upper)}", history.unit)
        words += f"; control limits {limits}"
    return Remark(words=f"{words}.", is_open=not inside)


def _count(count: int, word: str) -> str:
    """Return a number with its word.

    Examples
    --------
    >>> _count(1, "dummy"), _count(2, "dummy"), _count(2, "test")
    ('1 dummy', '2 dummies', '2 tests')
    """
    many = f"{word[:-1]}ies" if word.endswith("y") else f"{word}s"
    return f"{number(count)} {word if count == 1 else many}"
