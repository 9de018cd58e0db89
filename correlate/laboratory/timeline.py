"""The history of a dummy: its qualification results by test and quantity, with charts and changes."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import groupby
from typing import TYPE_CHECKING, Final, Literal

from correlate.display import short_repr
from correlate.laboratory.change import Changes, changes
from correlate.laboratory.control_chart import ControlChart, control_chart
from correlate.laboratory.log import kept_qualifications
from correlate.laboratory.register import is_part

if TYPE_CHECKING:
    from collections.abc import Sequence
    from datetime import date

    from correlate.laboratory.change import Effect
    from correlate.laboratory.log import KeptQualification, KeptQuantity
    from correlate.laboratory.register import Dummy, Exchange, Register


DAYS_PER_YEAR: Final = 365.25

OpenSignal = Literal["outside the window", "alarm of the control chart", "step", "drift"]


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class ExchangeEffect:
    """What exchanged parts changed.

    Attributes
    ----------
    exchanges
        The parts; several where no test lies between their exchanges, so that they cannot be distinguished.
    at
        Number of the first value after the exchange, from 0.
    effect
        The difference with an interval that holds for all exchanges and quantities of the dummy together;
        None with too few tests.
    """

    exchanges: tuple[Exchange, ...]
    at: int
    effect: Effect | None

    @property
    def words(self) -> str:
        """The parts, for people."""
        return ", ".join(dict.fromkeys(one.part for one in self.exchanges))


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityHistory:
    """One quantity of a qualification test over time.

    Attributes
    ----------
    name, words, unit
        Of the quantity.
    low, high
        The window of the newest result.
    results
        Those with a value, the oldest first.
    values
        One per result.
    chart
        Control limits and alarms; None with too few results.
    changes
        Drift and step.
    exchanges
        What exchanged parts changed, the oldest first.
    """

    name: str
    words: str
    unit: str
    low: float
    high: float
    results: tuple[KeptQualification, ...]
    values: tuple[float, ...]
    chart: ControlChart | None
    changes: Changes
    exchanges: tuple[ExchangeEffect, ...]

    @property
    def dates(self) -> tuple[date, ...]:
        """Days of the tests."""
        return tuple(one.date for one in self.results)

    @property
    def inside(self) -> tuple[bool, ...]:
        """Whether each value was inside the window of its day."""
        found = []
        for one in self.results:
            quantity = _quantity(one, self.name)
            found.append(quantity is not None and quantity.verdict == "inside")
        return tuple(found)

    @property
    def windows(self) -> tuple[tuple[float, float], ...]:
        """Lower and upper end of the window of each value, on its day."""
        found = (_quantity(one, self.name) for one in self.results)
        return tuple((self.low, self.high) if one is None else (one.low, one.high) for one in found)

    @property
    def open_signals(self) -> tuple[OpenSignal, ...]:
        """What is to be looked at: the newest value outside or with an alarm, a step, a drift."""
        alarm = self.chart is not None and bool(self.chart.alarms[-1])
        found: dict[OpenSignal, bool] = {
            "outside the window": not all(self.inside[-1:]),
            "alarm of the control chart": alarm,
            "step": self.changes.is_step,
            "drift": self.changes.is_drift,
        }
        return tuple(name for name, is_open in found.items() if is_open)

    @property
    def has_signal(self) -> bool:
        """Whether anything is to be looked at."""
        return bool(self.open_signals)


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class TestHistory:
    """One qualification test of a dummy over time.

    Attributes
    ----------
    dummy
        Whose.
    device, test
        Of the windows.
    results
        The oldest first.
    quantities
        In the order of the windows; only those that were measured at least once.
    """

    __test__ = False  # pytest takes classes of this name for tests

    dummy: Dummy
    device: str
    test: str
    results: tuple[KeptQualification, ...]
    quantities: tuple[QuantityHistory, ...]

    @property
    def has_signal(self) -> bool:
        """Whether anything is to be looked at in any quantity."""
        return any(one.has_signal for one in self.quantities)


def history(register: Register, serial: str, *, test: str = "") -> tuple[TestHistory, ...]:
    """Return the qualification results of a dummy over time.

    Parameters
    ----------
    register
        Of the laboratory, whose log is read.
    serial
        Of the dummy or one of its body parts.
    test
        Only tests with this in their name; empty: all.

    Returns
    -------
    tuple of TestHistory
        By name of the test; empty where nothing is saved yet. Intervals do not depend on `test`.

    Raises
    ------
    SettingsError
        There is no such dummy.
    FormatError
        A file of the log is damaged.
    """
    return dummy_history(register.dummy(serial), kept_qualifications(register), test=test)


def dummy_history(
    dummy: Dummy, kept: Sequence[KeptQualification], *, test: str = ""
) -> tuple[TestHistory, ...]:
    """Return the results of a dummy over time, out of those of the whole log."""
    own = [one for one in kept if one.dummy == dummy.serial]
    own.sort(key=lambda one: (one.test, one.device, one.date))
    groups = [
        (device, name, tuple(results))
        for (name, device), results in groupby(own, key=lambda one: (one.test, one.device))
    ]
    comparisons = sum(_exchange_comparisons(dummy, results) for _, _, results in groups)
    return tuple(
        TestHistory(
            dummy=dummy,
            device=device,
            test=name,
            results=results,
            quantities=_quantities(dummy, results, exchange_comparisons=max(comparisons, 1)),
        )
        for device, name, results in groups
        if is_part(test, name)
    )


def _exchange_comparisons(dummy: Dummy, results: Sequence[KeptQualification]) -> int:
    """Return how many effects of exchanges there are, over all quantities of a test."""
    series = [_measured(results, name) for name in _names(results)]
    return sum(len(_starts(dummy, measured)) for measured in series)


def _quantities(
    dummy: Dummy, results: Sequence[KeptQualification], *, exchange_comparisons: int
) -> tuple[QuantityHistory, ...]:
    names = _names(results)
    return tuple(
        _quantity_history(
            dummy,
            _measured(results, name),
            name,
            # A drift and a step in each quantity.
            comparisons=2 * len(names),
            exchange_comparisons=exchange_comparisons,
        )
        for name in names
    )


def _quantity_history(
    dummy: Dummy,
    results: tuple[KeptQualification, ...],
    name: str,
    *,
    comparisons: int,
    exchange_comparisons: int,
) -> QuantityHistory:
    found = [one for result in results if (one := _quantity(result, name)) is not None]
    values = tuple(one.value for one in found if one.value is not None)
    starts = _starts(dummy, results)
    seen = changes(
        [(one.date - results[0].date).days / DAYS_PER_YEAR for one in results],
        values,
        starts=list(starts),
        comparisons=comparisons,
        exchange_comparisons=exchange_comparisons,
    )
    newest = found[-1]
    return QuantityHistory(
        name=name,
        words=newest.words,
        unit=newest.unit,
        low=newest.low,
        high=newest.high,
        results=results,
        values=values,
        chart=control_chart(values, starts=list(starts)),
        changes=seen,
        exchanges=tuple(
            ExchangeEffect(exchanges=parts, at=at, effect=effect)
            for (at, parts), effect in zip(starts.items(), seen.exchanges, strict=True)
        ),
    )


def _names(results: Sequence[KeptQualification]) -> list[str]:
    """Return the quantities that were measured at least once, in the order of the newest windows."""
    listed = dict.fromkeys(one.name for result in reversed(results) for one in result.quantities)
    return [name for name in listed if _measured(results, name)]


def _measured(results: Sequence[KeptQualification], name: str) -> tuple[KeptQualification, ...]:
    return tuple(
        result
        for result in results
        if (found := _quantity(result, name)) is not None and found.value is not None
    )


def _quantity(result: KeptQualification, name: str) -> KeptQuantity | None:
    return next((one for one in result.quantities if one.name == name), None)


def _starts(dummy: Dummy, results: Sequence[KeptQualification]) -> dict[int, tuple[Exchange, ...]]:
    """Return where new parts begin: the number of the first result after an exchange, and the exchanges."""
    found: dict[int, tuple[Exchange, ...]] = {}
    for exchange in dummy.exchanges(results[0].test) if results else ():
        at = sum(one.date < exchange.date for one in results)
        if 0 < at < len(results):
            found[at] = (*found.get(at, ()), exchange)
    return found
