"""Removal of a constant offset, measured before the event."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning.time_axis import samples_between
from correlate.errors import SignalError
from correlate.flag import Flag
from correlate.samples import handed_over
from correlate.signal import Step

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.signal import Signal

OFFSET_STEP: Final = "remove offset"
"""Name of the step in the history of a signal whose offset was removed."""
MOST_CHANGE: Final = 0.05
"""Change within the window, over the largest value, from which on the event is in it."""
_PARTS: Final = 10


def remove_offset(signal: Signal, *, start_s: float, end_s: float) -> Signal:
    """Subtract the mean over a window in which the signal should be zero.

    Parameters
    ----------
    signal
        Any signal whose offset has not been removed yet.
    start_s, end_s
        Window, s, both ends included; usually before the trigger.

    Returns
    -------
    Signal
        Its history gains ``"remove offset"`` with the window, the value in the unit of the signal, the
        number of samples it was averaged over, and how much the signal changes in the window.

    Raises
    ------
    SettingsError
        The window ends before it starts.
    SignalError
        The offset was removed before, or the window reaches beyond the data or holds no sample.

    References
    ----------
    .. [1] Mean over a window before the trigger: common practice, no source.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> raw = Signal(samples=[2.0, 2.0, 7.0], start_s=-0.2, step_s=0.1, unit="g", channel="head ax")
    >>> remove_offset(raw, start_s=-0.2, end_s=-0.1).samples
    array([0., 0., 5.])
    """
    if any(step.name == OFFSET_STEP for step in signal.history):
        raise SignalError(
            "the offset was already removed",
            where=signal.place,
            remedy="remove it once, from the signal as it was read",
        )
    window = signal.samples[samples_between(signal, start_s=start_s, end_s=end_s)]
    offset = float(window.mean())
    samples = signal.samples - offset
    settings = {
        "start_s": start_s,
        "end_s": end_s,
        "offset": offset,
        "unit": signal.unit,
        "samples": int(window.size),
        "change_over_peak": change_over_peak(window, float(np.abs(samples).max())),
    }
    return signal.then(Step(OFFSET_STEP, settings), samples=handed_over(samples))


def change_over_peak(window: NDArray[np.float64], peak: float) -> float:
    """Return how much a signal changes within a window, over its largest value.

    Parameters
    ----------
    window
        Samples, at least one.
    peak
        Largest absolute value of the signal without its offset.

    Returns
    -------
    float
        Range of the means over tenths of the window, which noise hardly touches; 0 for a signal that is
        constant throughout.

    Examples
    --------
    >>> import numpy as np
    >>> change_over_peak(np.zeros(50), 10.0), round(change_over_peak(np.linspace(0.0, 1.0, 50), 10.0), 3)
    (0.0, 0.092)
    """
    if peak == 0.0:
        return 0.0
    means = [part.mean() for part in np.array_split(window, min(_PARTS, window.size))]
    return float(np.ptp(means)) / peak


def offset_flags(signal: Signal) -> tuple[Flag, ...]:
    """Return a warning where the offset was taken from a window in which something happens.

    Parameters
    ----------
    signal
        Conditioned.

    Returns
    -------
    tuple of Flag
        Empty where the signal is constant in the window to within 5 % of its largest value, or where no
        offset was removed. The limit is chosen here.
    """
    found = []
    for step in signal.history:
        change = step.settings.get("change_over_peak", 0.0) if step.name == OFFSET_STEP else 0.0
        if change > MOST_CHANGE:
            start_ms, end_ms = 1e3 * step.settings["start_s"], 1e3 * step.settings["end_s"]
            found.append(
                Flag(
                    "offset window overlaps the event",
                    f"'{signal.channel}' changes by {change:.0%} of its largest value between {start_ms:g} "
                    f"and {end_ms:g} ms, from where its offset was taken.",
                    {"change_over_peak": change, "start_s": start_ms / 1e3, "end_s": end_ms / 1e3},
                )
            )
    return tuple(found)
