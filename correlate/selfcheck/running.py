"""Recompute the kit on this machine and compare every number with its expected value."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.display import short_repr
from correlate.errors import CorrelateError
from correlate.formats import read
from correlate.selfcheck.functions import FUNCTIONS
from correlate.selfcheck.kit import KIT, Kit, read_kit

if TYPE_CHECKING:
    from collections.abc import Mapping
    from pathlib import Path

    from numpy.typing import NDArray

    from correlate.formats import Recording
    from correlate.selfcheck.kit import ExpectedCurve, ExpectedValue, KitCheck

    Found = Mapping[str, float | NDArray[np.float64] | None]


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Comparison:
    """One quantity: the expected and the computed number.

    Attributes
    ----------
    quantity, unit
        Of the kit.
    expected, found
        The number; of a curve those at the sample with the largest difference. `found` is None where nothing
        came out.
    difference
        Found less expected; None where nothing came out.
    tolerance
        Largest permitted difference.
    place
        Of a curve, where that sample is; else empty.
    reason
        Why nothing came out, else empty.
    """

    quantity: str
    unit: str
    expected: float
    found: float | None
    difference: float | None
    tolerance: float
    place: str = ""
    reason: str = ""

    @property
    def agrees(self) -> bool:
        """Whether the difference is permitted."""
        return self.difference is not None and abs(self.difference) <= self.tolerance


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Checked:
    """One check of the kit.

    Attributes
    ----------
    function, name, source
        Of the kit.
    comparisons
        One a quantity.
    """

    function: str
    name: str
    source: str
    comparisons: tuple[Comparison, ...]

    @property
    def agrees(self) -> bool:
        """Whether every quantity agrees."""
        return all(one.agrees for one in self.comparisons)


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class SelfCheck:
    """The whole kit, computed on this machine.

    Attributes
    ----------
    kit
        What was computed.
    checked
        One a check, in the order of the kit.
    """

    kit: Kit
    checked: tuple[Checked, ...]

    @property
    def agrees(self) -> bool:
        """Whether everything agrees."""
        return all(one.agrees for one in self.checked)

    @property
    def count(self) -> int:
        """How many quantities were compared."""
        return sum(len(one.comparisons) for one in self.checked)

    @property
    def functions(self) -> dict[str, tuple[Checked, ...]]:
        """The checks of each function, by its name."""
        names = dict.fromkeys(one.function for one in self.checked)
        return {name: tuple(one for one in self.checked if one.function == name) for name in names}

    @property
    def disagreeing(self) -> tuple[tuple[Checked, Comparison], ...]:
        """What does not agree, with the check that it belongs to."""
        return tuple((one, row) for one in self.checked for row in one.comparisons if not row.agrees)


def run_selfcheck(folder: str | Path = KIT) -> SelfCheck:
    """Compute a kit with this installation and compare every number.

    Parameters
    ----------
    folder
        Of the kit; that of this installation when left out.

    Returns
    -------
    SelfCheck

    Raises
    ------
    FormatError
        The kit is damaged; see :func:`read_kit`.
    """
    kit = read_kit(folder)
    recordings: dict[str, Recording] = {}
    checked = []
    for check in kit.checks:
        if check.file not in recordings:
            recordings[check.file] = read(kit.folder / check.file)
        checked.append(_checked(check, recordings[check.file]))
    return SelfCheck(kit=kit, checked=tuple(checked))


def _checked(check: KitCheck, recording: Recording) -> Checked:
    found, reason = _computed(check, recording)
    rows = [_value(row, found, reason) for row in check.values]
    rows += [_curve(row, recording, found, reason) for row in check.curves]
    return Checked(function=check.function, name=check.name, source=check.source, comparisons=tuple(rows))


def _computed(check: KitCheck, recording: Recording) -> tuple[Found, str]:
    """Return what a function gives, or why it gives nothing."""
    function = FUNCTIONS.get(check.function)
    if function is None:
        return {}, f"there is no function '{check.function}'"
    try:
        return function(recording, check.settings), ""
    except CorrelateError as error:
        return {}, str(error)
    except Exception as error:  # noqa: BLE001 - whatever is broken here is what a self-check is for
        return {}, f"it ended with {type(error).__name__}: {error}"


def _value(row: ExpectedValue, found: Found, reason: str) -> Comparison:
    value = found.get(row.quantity)
    number = None if value is None else float(np.asarray(value))
    if number is not None and not math.isfinite(number):
        number, reason = None, f"the result is {number}"
    return Comparison(
        quantity=row.quantity,
        unit=row.unit,
        expected=row.expected,
        found=number,
        difference=None if number is None else number - row.expected,
        tolerance=row.tolerance,
        reason="" if number is not None else reason or "the function gives no such quantity",
    )


def _curve(row: ExpectedCurve, recording: Recording, found: Found, reason: str) -> Comparison:
    signal = recording.channel(row.column)
    expected = signal.samples
    curve = np.asarray(found.get(row.quantity, np.empty(0)), dtype=np.float64)
    whole = curve.shape == expected.shape and bool(np.isfinite(curve).all())
    worst = int(np.argmax(np.abs(curve - expected))) if whole else 0
    if not whole and not reason:
        reason = f"the curve has {curve.size} samples, or some are no numbers; expected are {expected.size}"
    return Comparison(
        quantity=row.quantity,
        unit=row.unit,
        expected=float(expected[worst]),
        found=float(curve[worst]) if whole else None,
        difference=float(curve[worst] - expected[worst]) if whole else None,
        tolerance=row.tolerance,
        place=f"at {1e3 * signal.time_s[worst]:.6g} ms" if whole else "",
        reason="" if whole else reason,
    )
