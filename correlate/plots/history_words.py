"""The history of a quantity in sentences."""

from __future__ import annotations

from collections import Counter
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.laboratory.control_chart import RUN
from correlate.plots.laboratory_words import rounded, with_unit
from correlate.statistics import LEVEL

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.laboratory import Effect, QuantityHistory

WINDOW_SOURCE: Final = "window of the regulation or protocol"
CONTROL_SOURCE: Final = "control limits, mean ± 2.66 times the mean moving range (ISO 7870-2)"
RANGE_SOURCE: Final = "upper limit, 3.267 times the mean moving range (ISO 7870-2)"
RUN_SOURCE: Final = (
    f"{RUN} in a row on one side of the mean are an alarm too (NIST/SEMATECH e-Handbook 6.3.2, from memory)"
)

INTERVALS: Final = (
    f"Intervals have a confidence of {100 * LEVEL:g} %: those of drifts for all quantities of a test "
    "together, those of exchanges for all exchanges and quantities of the dummy together. "
    f"At most {100 * (1 - LEVEL):.0f} % of tests without any change show a drift or a step."
)
"""What the intervals of a history cover."""

_LEAST_CHANCE: Final = 0.001
"""Smaller probabilities are not written out: the simulation behind them is too coarse."""


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


def history_sentences(history: QuantityHistory) -> list[str]:
    """Return what a quantity shows over time.

    Parameters
    ----------
    history
        Of one quantity.

    Returns
    -------
    list of str
        The words of :func:`history_remarks`.
    """
    return [one.words for one in history_remarks(history)]


def history_remarks(history: QuantityHistory) -> list[Remark]:
    """Return what a quantity shows over time, and what of it is to be looked at.

    Parameters
    ----------
    history
        Of one quantity.

    Returns
    -------
    list of Remark
        One sentence each: values outside the window, alarms of the control chart, drift, step, and what every
        exchange of parts changed.
    """
    found = history.open_signals
    return [
        *(Remark(words=one, is_open="outside the window" in found) for one in _outside(history)),
        *(Remark(words=one, is_open="alarm of the control chart" in found) for one in _alarms(history)),
        Remark(words=_drift(history), is_open="drift" in found),
        Remark(words=_step(history), is_open="step" in found),
        *(Remark(words=one) for one in _exchanges(history)),
    ]


def quantity_words(value: float, unit: str) -> str:
    """Return a value with its unit.

    Examples
    --------
    >>> quantity_words(5574.3, "N"), quantity_words(0.8, "1")
    ('5574 N', '0.8')
    """
    return with_unit(rounded(value), unit)


def effect_words(effect: Effect | None, unit: str) -> str:
    """Return a difference with its 95 % interval, or that there are too few tests.

    Examples
    --------
    >>> from correlate.laboratory import Effect
    >>> effect_words(Effect(value=-1.25, lower=-2.0, upper=-0.5), "mm")
    '−1.25 mm (−2 to −0.5)'
    >>> effect_words(Effect(value=-1.25, lower=-2.75, upper=0.25), "mm")
    'not distinguishable, −1.25 mm (−2.75 to 0.25)'
    """
    if effect is None:
        return "too few tests"
    sign = "+" if effect.value > 0 else ""
    ends = f"{rounded(effect.lower, 3)} to {rounded(effect.upper, 3)}"
    told = f"{sign}{quantity_words(float(f'{effect.value:.3g}'), unit)} ({ends})"
    return told if effect.is_distinguishable else f"not distinguishable, {told}"


def _outside(history: QuantityHistory) -> Iterator[str]:
    days = [one for one, inside in zip(_tests(history), history.inside, strict=True) if not inside]
    if days:
        yield f"Outside the window: {', '.join(days)}."


def _alarms(history: QuantityHistory) -> Iterator[str]:
    if history.chart is None:
        yield "Too few tests for control limits."
        return
    told = [
        f"{test} ({', '.join(alarms)})"
        for test, alarms in zip(_tests(history), history.chart.alarms, strict=True)
        if alarms
    ]
    yield f"Control chart: {', '.join(told)}." if told else "Control chart: no alarm."


def _tests(history: QuantityHistory) -> list[str]:
    """Return the day of each test, with the name of its recording if the day has several."""
    several = Counter(history.dates)
    return [
        f"{one.date.isoformat()} {one.recording}" if several[one.date] > 1 else one.date.isoformat()
        for one in history.results
    ]


def _drift(history: QuantityHistory) -> str:
    found = history.changes
    words = effect_words(found.drift, history.unit)
    if found.is_step and found.drift is not None and found.drift.is_distinguishable:
        return "Drift per year: a step describes the tests better."
    return f"Drift per year: {words}."


def _step(history: QuantityHistory) -> str:
    step = history.changes.step
    if step is None:
        return "Step: too few tests."
    day = history.dates[step.at].isoformat()
    size = f"{'+' if step.size > 0 else ''}{quantity_words(float(f'{step.size:.3g}'), history.unit)}"
    chance = rounded(step.probability, 2) if step.probability >= _LEAST_CHANCE else f"below {_LEAST_CHANCE:g}"
    if history.changes.is_step:
        return f"Step: {size} from {day} on (probability {chance} without a step)."
    if history.changes.is_drift:
        return "Step: a drift describes the tests better."
    return (
        f"Step: not distinguishable, the most likely is {size} from {day} on "
        f"(probability {chance} without a step)."
    )


def _exchanges(history: QuantityHistory) -> Iterator[str]:
    for one in history.exchanges:
        day = one.exchanges[0].date.isoformat()
        yield f"Exchange of {one.words} ({day}): {effect_words(one.effect, history.unit)}."
