"""Qualification: measured quantities compared with their windows."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from correlate.conditioning.derived import check_same_grid
from correlate.criteria.channels import AS_RECORDED
from correlate.criteria.curve_measures import (
    first_decay,
    internal_hysteresis,
    oscillation_after_peak,
    peak_while,
    unimodality,
)
from correlate.criteria.qualification_curves import QualificationSignals
from correlate.display import short_repr
from correlate.errors import CorrelateError, SignalError

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    from correlate.criteria.channels import Preparation
    from correlate.criteria.result import CriterionResult
    from correlate.criteria.windows import Measure, Quantity, Window, WindowBook
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


def _time_of_peak_after_other(bench: Bench, quantity: Quantity) -> Measured:
    first = _largest(bench, bench.book.quantities[quantity.other]).start_s or 0.0
    then = _largest(bench, quantity).start_s or 0.0
    return Measured(value=1e3 * (then - first), start_s=min(first, then), end_s=max(first, then))


def _value_at_time(bench: Bench, quantity: Quantity) -> Measured:
    signal, _, _ = bench.course(quantity)
    at_s = (quantity.time_ms or 0.0) / 1e3
    if not signal.start_s <= at_s <= signal.end_s:
        raise SignalError(f"the data do not reach {quantity.time_ms:g} ms", remedy="give a longer recording")
    value = float(np.interp(at_s, signal.time_s, signal.samples))
    return Measured(value=value, start_s=at_s, end_s=at_s)


def _between_times(signal: Signal, quantity: Quantity) -> NDArray[np.bool_]:
    start_ms, end_ms = quantity.between_ms or (0.0, 0.0)
    times_ms = 1e3 * signal.time_s
    inside = (times_ms >= start_ms - 1e-6) & (times_ms <= end_ms + 1e-6)
    if not inside.any():
        raise SignalError(f"there are no data from {start_ms:g} to {end_ms:g} ms")
    return np.asarray(inside, dtype=np.bool_)


def _largest_between(bench: Bench, quantity: Quantity) -> Measured:
    return _largest(bench, quantity, _between_times(bench.course(quantity)[0], quantity))


def _least_between(bench: Bench, quantity: Quantity) -> Measured:
    signal, side, course = bench.course(quantity)
    found = peak_while(-course, _between_times(signal, quantity), step_s=signal.step_s)
    return _placed(found, signal, -side * found.value)


def _duration_of_first_decay(bench: Bench, quantity: Quantity) -> Measured:
    found = _time_of_first_decay(bench, quantity)
    start_s, end_s = found.start_s or 0.0, found.end_s or 0.0
    return Measured(value=1e3 * (end_s - start_s), start_s=start_s, end_s=end_s)


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
    "time of peak after other": _time_of_peak_after_other,
    "value at time": _value_at_time,
    "largest between times": _largest_between,
    "least between times": _least_between,
    "time of first decay": _time_of_first_decay,
    "duration of first decay": _duration_of_first_decay,
    "oscillation after peak": _oscillation_after_peak,
    "unimodality": _unimodality,
    "peak while other is inside its window": _peak_while_inside,
    "peak while other rises": _peak_while_rising,
    "internal hysteresis": _internal_hysteresis,
}


Verdict = Literal["inside", "outside", "not measurable"]


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class QuantityVerdict:
    """One quantity against its window.

    Attributes
    ----------
    name, words, unit
        Of the quantity.
    low, high
        The window.
    value
        None where it is not measurable.
    verdict
        ``inside`` (the ends included), ``outside`` or ``not measurable``.
    outside_by
        Distance from the nearer end: negative below the window, positive above, 0 inside; None where it is
        not measurable.
    reason
        Why it is not measurable, else empty.
    start_s, end_s
        The stretch behind the value, s after time zero; None where there is none.
    """

    name: str
    words: str
    unit: str
    low: float
    high: float
    value: float | None
    verdict: Verdict
    outside_by: float | None
    reason: str
    start_s: float | None
    end_s: float | None


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Qualification:
    """A recording against the windows of one test.

    Attributes
    ----------
    path
        Of the recording.
    window
        The windows.
    verdicts
        One a quantity, in the order of the windows.
    signals
        The curves that were used, by name, with every step.
    channels
        The channels that they were made of, as recorded.
    """

    path: str
    window: Window
    verdicts: tuple[QuantityVerdict, ...]
    signals: Mapping[str, Signal]
    channels: tuple[Signal, ...]

    def count(self, verdict: Verdict) -> int:
        """Return how many quantities have a verdict."""
        return sum(one.verdict == verdict for one in self.verdicts)

    @property
    def passed(self) -> bool:
        """Whether every quantity was measured and is inside its window."""
        return self.count("inside") == len(self.verdicts)


def qualify(
    recording: Recording,
    window: Window,
    book: WindowBook,
    *,
    preparation: Preparation = AS_RECORDED,
    impact_velocity_m_per_s: float | None = None,
) -> Qualification:
    """Measure the quantities of a test on a recording and compare them with their windows.

    Parameters
    ----------
    recording
        Test data, or the output of a model, under channel codes; see :func:`with_codes`.
    window
        The windows of one test.
    book
        Holds how quantities are measured.
    preparation
        Time zero and offset; an interval given here yields to that of the test's set-up.
    impact_velocity_m_per_s
        Where the recording does not say; it overrides what the recording says.

    Returns
    -------
    Qualification

    Raises
    ------
    SignalError
        The window does not come from a window book.

    Notes
    -----
    Windows and the way to measure them come from data files; see the page on qualification.
    """
    if window.set_up is None:
        raise SignalError("the window has no set-up", remedy="take it from a window book")
    signals = QualificationSignals(
        channels=recording.signals,
        plans=book.signals,
        set_up=window.set_up,
        preparation=preparation,
    )
    bench = Bench(
        signals=signals,
        window=window,
        book=book,
        recording=recording,
        impact_velocity_m_per_s=impact_velocity_m_per_s,
    )
    verdicts = tuple(_verdict(bench, book.quantities[name]) for name in window.limits)
    used = {name: one for name, one in signals.made.items() if not isinstance(one, CorrelateError)}
    return Qualification(
        path=str(recording.path),
        window=window,
        verdicts=verdicts,
        signals=used,
        channels=tuple(signals.taken.values()),
    )


def _verdict(bench: Bench, quantity: Quantity) -> QuantityVerdict:
    low, high = bench.window.limits[quantity.name]
    measured: Measured | None = None
    word: Verdict = "not measurable"
    outside_by: float | None = None
    reason = ""
    try:
        measured = bench.measure(quantity)
    except CorrelateError as error:
        reason = str(error)
    else:
        outside_by = min(measured.value - low, 0.0) + max(measured.value - high, 0.0)
        word = "outside" if outside_by else "inside"
    return QuantityVerdict(
        name=quantity.name,
        words=quantity.words,
        unit=quantity.unit,
        low=low,
        high=high,
        value=None if measured is None else measured.value,
        verdict=word,
        outside_by=outside_by,
        reason=reason,
        start_s=None if measured is None else measured.start_s,
        end_s=None if measured is None else measured.end_s,
    )
