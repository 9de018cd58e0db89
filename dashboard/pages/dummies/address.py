"""What the URL of the dummies page names, looked up in the register and its log."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Final

from correlate import CorrelateError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from correlate import DummyState, KeptQualification, LaboratoryOverview, QuantityHistory, TestHistory


PARTS: Final = {"dummies": "dummies-page", "results": "results-page", "sensors": "sensors-page"}
"""Query parameters for the parts of the tables."""

KEYS: Final = ("dummy", "quantity", "result", "day", *PARTS.values())
"""All query parameters: the selection, the result whose details are shown, the day whose state is shown, and
the part of each table."""

_SHORT: Final = 12


@dataclass(frozen=True, slots=True, kw_only=True)
class DummyChoice:
    """What is shown.

    Attributes
    ----------
    state
        Of the dummy.
    test, quantity
        Of the chart; None where no result is saved.
    result
        Whose details are shown; None for none.
    """

    state: DummyState
    test: TestHistory | None
    quantity: QuantityHistory | None
    result: KeptQualification | None


def day_of(asked: Mapping[str, str], today: date) -> date:
    """Return the day whose state is shown: the one of the address, or today."""
    if not asked["day"]:
        return today
    try:
        return date.fromisoformat(asked["day"])
    except ValueError:
        raise CorrelateError(
            f"'{asked['day']}' is not a valid day",
            where="'day' in the address",
            remedy="write it as 2026-11-30, or omit it for today",
        ) from None


def quantity_key(test: TestHistory, quantity: QuantityHistory) -> str:
    """Return how the URL writes a quantity."""
    return f"{test.device}: {test.test}: {quantity.name}"


def result_key(result: KeptQualification) -> str:
    """Return how the URL writes a saved result."""
    return result.identity[:_SHORT]


def quantities(state: DummyState) -> dict[str, tuple[TestHistory, QuantityHistory]]:
    """Return what can be drawn of a dummy, by how the URL writes it."""
    return {quantity_key(test, one): (test, one) for test in state.tests for one in test.quantities}


def chosen(overview: LaboratoryOverview, asked: Mapping[str, str]) -> DummyChoice:
    """Look up what an address names; what it leaves open is the first dummy and its first open signal."""
    state = _dummy(overview, asked["dummy"])
    known = quantities(state)
    test, quantity = _quantity(known, asked["quantity"], state) if known else (None, None)
    return DummyChoice(
        state=state,
        test=test,
        quantity=quantity,
        result=_result(state, asked["result"]) if asked["result"] else None,
    )


def _dummy(overview: LaboratoryOverview, serial: str) -> DummyState:
    if not serial:
        return overview.dummies[0]
    dummy = overview.register.dummy(serial)
    return next(one for one in overview.dummies if one.dummy == dummy)


def _quantity(
    known: Mapping[str, tuple[TestHistory, QuantityHistory]], key: str, state: DummyState
) -> tuple[TestHistory, QuantityHistory]:
    if not key:
        with_signal = (one for one in known.values() if one[1].open_signals)
        return next(with_signal, next(iter(known.values())))
    if key not in known:
        raise CorrelateError(
            f"there is no quantity '{key}'",
            where=f"results of dummy '{state.dummy.serial}'",
            remedy="select one on the page",
        )
    return known[key]


def _result(state: DummyState, key: str) -> KeptQualification:
    found = next((one for one in state.results if result_key(one) == key), None)
    if found is None:
        raise CorrelateError(
            f"there is no result '{key}'",
            where=f"results of dummy '{state.dummy.serial}'",
            remedy="select one on the page",
        )
    return found
