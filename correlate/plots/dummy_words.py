"""Dummies over time in words: what is due, what is to be looked at, what exchanged parts moved."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.laboratory.control_chart import LEAST_RANGES, RUN
from correlate.plots.laboratory_words import rounded, with_unit
from correlate.plots.sign_off_words import day_words
from correlate.plots.wording import as_sentence, number

if TYPE_CHECKING:
    from collections import Counter
    from collections.abc import Sequence

    from correlate.laboratory import (
        DueTest,
        Effect,
        Exchange,
        KeptQualification,
        LaboratoryOverview,
        QuantityHistory,
    )
    from correlate.laboratory.timeline import OpenSignal

_DIGITS: Final = 3
_LEAST_CHANCE: Final = 0.001

LIMITS_SOURCE: Final = (
    "Control limits: mean of each part ± 2.66 times the mean moving range; moving ranges up to 3.267 times "
    f"their mean; {RUN} values in a row on one side of the mean (Shewhart charts of single values, "
    "ISO 7870-2 and NIST/SEMATECH e-Handbook 6.3.2, from memory)."
)
"""What the control limits are and where they come from."""

INTERVALS: Final = (
    "Intervals are widened so that the error of 5 % holds for all quantities of the test together, and for "
    "exchanged parts for all exchanges and quantities of the dummy. Control limits tell change from scatter; "
    "they say nothing about the regulation."
)
"""What the intervals cover."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Remark:
    """A sentence about a quantity.

    Attributes
    ----------
    words
        With a full stop.
    is_open
        Whether it says that something is to be looked at.
    """

    words: str
    is_open: bool = False


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
        For instance ``due by 1 March 2026, 2 tests left``.
    """
    if due.overdue:
        return due.reason
    parts = [] if due.due is None else [f"due by {day_words(due.due)}"]
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
    return [
        _newest(history),
        *_control(history),
        _drift(history),
        _step(history),
        *_exchanged(history, exchanges),
        *(Remark(words=f"Next test: {_due_clause(one)}.", is_open=one.overdue) for one in due),
    ]


def _due_clause(due: DueTest) -> str:
    return f"overdue, {due_words(due)}" if due.overdue else due_words(due)


def _newest(history: QuantityHistory) -> Remark:
    low, high = history.windows[-1]
    inside = history.inside[-1]
    value = with_unit(rounded(history.values[-1]), history.unit)
    window = with_unit(f"{rounded(low)} to {rounded(high)}", history.unit)
    where = "inside" if inside else "outside"
    words = f"Newest value: {value} on {day_words(history.dates[-1])}, {where} its window of {window}."
    return Remark(words=words, is_open=not inside)


def _control(history: QuantityHistory) -> list[Remark]:
    chart = history.chart
    if chart is None:
        return [Remark(words=f"No control limits yet: they need {LEAST_RANGES} moving ranges.")]
    limits = with_unit(f"{rounded(chart.lower[-1])} to {rounded(chart.upper[-1])}", history.unit)
    newest = chart.alarms[-1]
    beyond = "outside the limits" in newest
    said = [
        Remark(
            words=f"It is {'outside' if beyond else 'inside'} the control limits of {limits}.", is_open=beyond
        )
    ]
    if "range above its limit" in newest and chart.ranges[-1] is not None:
        moved = with_unit(rounded(chart.ranges[-1], _DIGITS), history.unit)
        most = with_unit(rounded(chart.upper_range, _DIGITS), history.unit)
        said.append(
            Remark(words=f"It differs from the value before by {moved}, more than {most}.", is_open=True)
        )
    if "run on one side" in newest:
        said.append(Remark(words=f"The last {RUN} values are on one side of the mean.", is_open=True))
    earlier = sum(bool(one) for one in chart.alarms[:-1])
    if earlier:
        said.append(Remark(words=f"{_count(earlier, 'earlier value')} had an alarm of the control chart."))
    return said


def _drift(history: QuantityHistory) -> Remark:
    drift = history.changes.drift
    if drift is None:
        return Remark(words="There are too few tests to look for a drift.")
    told = _effect_words(drift, history.unit, " per year")
    if history.changes.is_drift:
        return Remark(words=f"Drift: {told}.", is_open=True)
    if drift.is_distinguishable:
        return Remark(words=f"A step describes the values better than a drift of {told}.")
    return Remark(words=f"A drift is not distinguishable: {told}.")


def _step(history: QuantityHistory) -> Remark:
    step = history.changes.step
    if step is None:
        return Remark(words="There are too few tests to look for a step.")
    share = rounded(step.probability, 2) if step.probability >= _LEAST_CHANCE else f"below {_LEAST_CHANCE:g}"
    chance = f"probability of one as clear without a step: {share}"
    if not history.changes.is_step:
        return Remark(words=f"A step is not distinguishable ({chance}).")
    before, after = (day_words(history.dates[at]) for at in (step.at - 1, step.at))
    size = with_unit(_signed(step.size), history.unit)
    return Remark(words=f"Step of {size} between {before} and {after} ({chance}).", is_open=True)


def _exchanged(history: QuantityHistory, exchanges: Sequence[Exchange]) -> list[Remark]:
    said = []
    for one in history.exchanges:
        days = ", ".join(dict.fromkeys(day_words(part.date) for part in one.exchanges))
        part = as_sentence(f"{one.words}, exchanged on {days}")[:-1]
        if one.effect is None:
            said.append(Remark(words=f"{part}: too few tests to tell what it moved."))
            continue
        told = _effect_words(one.effect, history.unit)
        moved = "moved the values by" if one.effect.is_distinguishable else "not distinguishable,"
        said.append(Remark(words=f"{part}: {moved} {told}."))
    said += [
        Remark(
            words=f"{one.part[:1].upper()}{one.part[1:]}, exchanged on {day_words(one.date)}: no test since."
        )
        for one in exchanges
        if one.date > history.dates[-1]
    ]
    return said


def _effect_words(effect: Effect, unit: str, per: str = "") -> str:
    ends = f"{_signed(effect.lower)} to {_signed(effect.upper)}"
    return f"{with_unit(_signed(effect.value), unit)}{per} (interval {ends})"


def _signed(value: float) -> str:
    text = rounded(value, _DIGITS)
    return f"+{text}" if value > 0 else text


def _count(count: int, word: str) -> str:
    """Return a number with its word.

    Examples
    --------
    >>> _count(1, "dummy"), _count(2, "dummy"), _count(2, "test")
    ('1 dummy', '2 dummies', '2 tests')
    """
    many = f"{word[:-1]}ies" if word.endswith("y") else f"{word}s"
    return f"{number(count)} {word if count == 1 else many}"
