"""The evaluator of qualification windows: measures every quantity and says inside, outside, or why not."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from correlate.criteria.channels import AS_RECORDED
from correlate.criteria.measuring import Bench, Measured
from correlate.criteria.qualification_signals import QualificationSignals
from correlate.display import short_repr
from correlate.errors import CorrelateError, SignalError

if TYPE_CHECKING:
    from collections.abc import Mapping

    from correlate.criteria.channels import Preparation
    from correlate.criteria.window_tables import Quantity, Window
    from correlate.criteria.windows import WindowBook
    from correlate.formats import Recording
    from correlate.signal import Signal

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
    """

    path: str
    window: Window
    verdicts: tuple[QuantityVerdict, ...]
    signals: Mapping[str, Signal]

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
        Where the recording does not say; it goes before what the recording says.

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
    return Qualification(path=str(recording.path), window=window, verdicts=verdicts, signals=used)


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
