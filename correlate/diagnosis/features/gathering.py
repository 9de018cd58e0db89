"""All features of one curve; what cannot be determined is None, with the reason beside it."""

from __future__ import annotations

from dataclasses import dataclass, field, fields
from functools import partial
from types import MappingProxyType
from typing import TYPE_CHECKING, Final

from correlate.diagnosis.features.areas import impulse, share_before_peak
from correlate.diagnosis.features.hysteresis import loop_loss
from correlate.diagnosis.features.peaks import CurvePeak, curve_peaks
from correlate.diagnosis.features.pulse import Pulse, onset_time, pulse_of, rebound
from correlate.diagnosis.features.tail import Tail, ringing_tail
from correlate.diagnosis.features.transitions import fall_rate, half_duration, rise_rate
from correlate.display import short_repr
from correlate.errors import SignalError
from correlate.pair import AlignedPair

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    import numpy as np
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

_OF_THE_PULSE: Final[dict[str, Callable[[Pulse], float]]] = {
    "onset_time": onset_time,
    "rise_rate": rise_rate,
    "fall_rate": fall_rate,
    "half_duration": half_duration,
    "share_before_peak": share_before_peak,
    "impulse": impulse,
}


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Features:
    """What an engineer reads off a curve. None: cannot be told; ``reasons`` says why.

    Attributes
    ----------
    onset_time
        When the absolute value first reaches 5 % of the peak, s.
    peak
        Value of largest absolute size, signed, unit of the curve.
    peak_time
        s.
    rise_rate, fall_rate
        Mean slope between 10 % and 90 % of the peak before and after it, unit of the curve a second, signed.
    half_duration
        For how long the curve is above half of its peak, s.
    share_before_peak
        Share of the main pulse's area that lies before its peak.
    peaks
        Every peak of the sign of the largest that stands out by 10 % of it, in time.
    rebound
        Largest swing to the other side after the peak, as a share of it.
    impulse
        Integral over time, unit of the curve times s.
    tail_frequency, tail_damping
        Of the ringing after the peak: damped frequency, Hz, and share of critical damping.
    hysteresis
        Share of the work of loading that the force-deflection loop keeps.
    reasons
        Why a feature is None, under its name.
    """

    onset_time: float | None
    peak: float
    peak_time: float
    rise_rate: float | None
    fall_rate: float | None
    half_duration: float | None
    share_before_peak: float | None
    peaks: tuple[CurvePeak, ...]
    rebound: float
    impulse: float | None
    tail_frequency: float | None
    tail_damping: float | None
    hysteresis: float | None
    reasons: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        """Freeze the reasons."""
        object.__setattr__(self, "reasons", MappingProxyType(dict(self.reasons)))

    def __reduce__(self) -> tuple[partial[Features], tuple[()]]:
        """Pickle through a plain dictionary, because a mapping proxy cannot be pickled."""
        plain = {item.name: getattr(self, item.name) for item in fields(self)}
        return partial(Features, **{**plain, "reasons": dict(self.reasons)}), ()

    @property
    def peak_count(self) -> int:
        """How many peaks there are."""
        return len(self.peaks)


def features(time: Floats, values: Floats, *, against: Floats | None = None) -> Features:
    """Tell the features of a curve.

    Parameters
    ----------
    time
        Shape ``(n,)``, s, one constant step.
    values
        Shape ``(n,)``: filtered, and without offset, because several features measure from zero.
    against
        Shape ``(n,)``: the deflection that belongs to a force, for the hysteresis.

    Returns
    -------
    Features

    Raises
    ------
    SignalError
        Unequal lengths, a sample that is not finite, a step that is not constant, or a curve that is zero
        throughout.

    References
    ----------
    .. [1] Each feature names its source: ``correlate/diagnosis/features``.

    Examples
    --------
    >>> import numpy as np
    >>> time = np.arange(101) * 1e-3
    >>> pulse = np.sin(np.pi * np.clip((time - 0.02) / 0.06, 0, 1))
    >>> found = features(time, -8 * pulse)
    >>> found.peak, round(found.peak_time, 4), round(found.half_duration, 4)
    (-8.0, 0.05, 0.04)
    >>> found.tail_damping, found.reasons["tail_damping"]
    (None, 'after its peak the curve does not ring: it has fewer than three clear extremes')
    """
    # The pair checks lengths, samples and step.
    checked = AlignedPair(time=time, reference=values, candidate=values if against is None else against)
    pulse = pulse_of(checked.time, checked.reference)
    reasons: dict[str, str] = {}
    told = {name: _told(name, tell, pulse, reasons) for name, tell in _OF_THE_PULSE.items()}
    tail = tail_of(pulse, reasons)
    return Features(
        **told,
        peak=pulse.sign * pulse.height,
        peak_time=pulse.peak_time,
        peaks=curve_peaks(pulse),
        rebound=rebound(pulse),
        tail_frequency=tail.frequency if tail else None,
        tail_damping=tail.damping_ratio if tail else None,
        hysteresis=_hysteresis(pulse, None if against is None else checked.candidate, reasons),
        reasons=reasons,
    )


def tail_of(pulse: Pulse, reasons: dict[str, str]) -> Tail | None:
    """Return the ringing tail, or None and write the reason down.

    Parameters
    ----------
    pulse
        The curve.
    reasons
        Gets an entry for frequency and damping when there is no such tail.

    Returns
    -------
    Tail or None
    """
    try:
        return ringing_tail(pulse)
    except SignalError as error:
        reasons["tail_frequency"] = reasons["tail_damping"] = error.what
        return None


def _told(name: str, tell: Callable[[Pulse], float], pulse: Pulse, reasons: dict[str, str]) -> float | None:
    try:
        return tell(pulse)
    except SignalError as error:
        reasons[name] = error.what
        return None


def _hysteresis(pulse: Pulse, against: Floats | None, reasons: dict[str, str]) -> float | None:
    if against is None:
        reasons["hysteresis"] = "no deflection is given with the curve"
        return None
    try:
        return loop_loss(pulse, pulse_of(pulse.time, against))
    except SignalError as error:
        reasons["hysteresis"] = error.what
        return None
