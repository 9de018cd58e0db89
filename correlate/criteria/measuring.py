"""How the quantities of qualification windows are measured; one function per kind of measurement."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning.same_grid import check_same_grid
from correlate.criteria.curve_measures import (
    first_decay,
    internal_hysteresis,
    oscillation_after_peak,
    peak_while,
    unimodality,
)
from correlate.errors import SignalError

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from correlate.criteria.qualification_signals import QualificationSignals
    from correlate.criteria.result import CriterionResult
    from correlate.criteria.window_tables import Measure, Quantity, Window
    from correlate.criteria.windows import WindowBook
    from correlate.formats import Recording
    from correlate.signal import Signal

VELOCITY_KEY: Final = "Velocity test object 1"
"""Where an ISO/TS 13499 test description gives the impact velocity, m/s."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Measured:
    """A measured quantity.

    Attributes
    ----------
    value
        In the unit of the quantity.
    start_s, end_s
        The stretch behind the value, s after time zero; None where the value belongs to no time.
    """

    value: float
    start_s: float | None = None
    end_s: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Bench:
    """All that a measure may look at.

    Attributes
    ----------
    signals
        The curves of the test.
    window, book
        The windows of the test, and how quantities are measured.
    recording
        Where the curves come from.
    impact_velocity_m_per_s
        As the user gave it, or None.
    """

    signals: QualificationSignals
    window: Window
    book: WindowBook
    recording: Recording
    impact_velocity_m_per_s: float | None

    def measure(self, quantity: Quantity) -> Measured:
        """Measure a quantity.

        Raises
        ------
        CorrelateError
            It cannot be measured on this recording; the message says why.
        """
        return _MEASURES[quantity.measure](self, quantity)

    def course(self, quantity: Quantity) -> tuple[Signal, int, NDArray[np.float64]]:
        """Return the curve of a quantity, the side of its event, and the samples turned to that side."""
        signal, side = self.signals.get(quantity.of), self.signals.side(quantity.of)
        return signal, side, side * signal.samples

    def other(self, quantity: Quantity, signal: Signal) -> Signal:
        """Return the curve of the other quantity, on the grid of the first."""
        found = self.signals.get(self.book.quantities[quantity.other].of)
        check_same_grid(signal, found)
        return found


def _placed(found: CriterionResult, signal: Signal, value: float) -> Measured:
    """Return a result on the time axis of its signal."""
    return Measured(value=value, start_s=signal.start_s + found.start_s, end_s=signal.start_s + found.end_s)


def _impact_velocity(bench: Bench, _: Quantity) -> Measured:
    if bench.impact_velocity_m_per_s is not None:
        return Measured(value=bench.impact_velocity_m_per_s)
    text = bench.recording.details.get(VELOCITY_KEY, "")
    try:
        return Measured(value=float(text))
    except ValueError:
        what = f"'{VELOCITY_KEY}' is '{text}'" if text else f"the data give no '{VELOCITY_KEY}'"
        raise SignalError(what, remedy="give it with --impact-velocity") from None


def _largest(bench: Bench, quantity: Quantity, holds: NDArray[np.bool_] | None = None) -> Measured:
    signal, side, course = bench.course(quantity)
    among = np.ones(course.size, dtype=np.bool_) if holds is None else holds
    found = peak_while(course, among, step_s=signal.step_s)
    return _placed(found, signal, side * found.value)


def _peak(bench: Bench, quantity: Quantity) -> Measured:
    return _largest(bench, quantity)


def _time_of_peak(bench: Bench, quantity: Quantity) -> Measured:
    found = _largest(bench, quantity)
    return Measured(value=1e3 * (found.start_s or 0.0), start_s=found.start_s, end_s=found.end_s)


def _time_of_first_decay(bench: Bench, quantity: Quantity) -> Measured:
    signal, _, course = bench.course(quantity)
    found = first_decay(course, step_s=signal.step_s, level=quantity.level or 0.0)
    return _placed(found, signal, 1e3 * (signal.start_s + found.end_s))


def _oscillation_after_peak(bench: Bench, quantity: Quantity) -> Measured:
    signal, _, course = bench.course(quantity)
    found = oscillation_after_peak(course, step_s=signal.step_s)
    return _placed(found, signal, found.value)


def _unimodality(bench: Bench, quantity: Quantity) -> Measured:
    signal, _, course = bench.course(quantity)
    found = unimodality(course, step_s=signal.step_s)
    return _placed(found, signal, found.value)


def _peak_while_inside(bench: Bench, quantity: Quantity) -> Measured:
    if quantity.other not in bench.window.limits:
        raise SignalError(
            f"the test has no window of '{quantity.other}'", remedy="add one to the windows file"
        )
    low, high = bench.window.limits[quantity.other]
    other = bench.other(quantity, bench.course(quantity)[0])
    inside = (other.samples >= low) & (other.samples <= high)
    if not inside.any():
        name = bench.book.quantities[quantity.other].of
        raise SignalError(f"the {name} is never within {low:g} to {high:g} {other.unit}")
    return _largest(bench, quantity, inside)


def _peak_while_rising(bench: Bench, quantity: Quantity) -> Measured:
    start, stop = quantity.rise or (0.0, 0.0)
    other = bench.other(quantity, bench.course(quantity)[0])
    top = int(np.argmax(other.samples))
    reached = np.maximum.accumulate(other.samples)
    rising = (reached >= start) & (reached < stop) & (np.arange(reached.size) <= top)
    if not rising.any():
        name = bench.book.quantities[quantity.other].of
        raise SignalError(f"the {name} never rises from {start:g} to {stop:g} {other.unit}")
    return _largest(bench, quantity, rising)


def _internal_hysteresis(bench: Bench, quantity: Quantity) -> Measured:
    signal, _, course = bench.course(quantity)
    other = bench.other(quantity, signal)
    found = internal_hysteresis(course, other.samples, step_s=signal.step_s)
    return _placed(found, signal, found.value)


_MEASURES: Final[dict[Measure, Callable[[Bench, Quantity], Measured]]] = {
    "impact velocity": _impact_velocity,
    "peak": _peak,
    "time of peak": _time_of_peak,
    "time of first decay": _time_of_first_decay,
    "oscillation after peak": _oscillation_after_peak,
    "unimodality": _unimodality,
    "peak while other is inside its window": _peak_while_inside,
    "peak while other rises": _peak_while_rising,
    "internal hysteresis": _internal_hysteresis,
}
