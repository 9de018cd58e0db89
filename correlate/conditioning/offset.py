"""Removal of a constant offset, measured before the event."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.conditioning.interval import samples_between
from correlate.errors import SignalError
from correlate.signal import Step

if TYPE_CHECKING:
    from correlate.signal import Signal

OFFSET_STEP: Final = "remove offset"
"""Name of the step in the history of a signal whose offset was removed."""


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
        Its history gains ``"remove offset"`` with the window, the value in the unit of the signal and the
        number of samples it was averaged over.

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
    settings = {
        "start_s": start_s,
        "end_s": end_s,
        "offset": offset,
        "unit": signal.unit,
        "samples": int(window.size),
    }
    return signal.then(Step(OFFSET_STEP, settings), samples=signal.samples - offset)
