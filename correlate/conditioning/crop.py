"""Cut a signal to an interval."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.conditioning.interval import samples_between
from correlate.errors import SignalError
from correlate.signal import Step

if TYPE_CHECKING:
    from correlate.signal import Signal

CROP_STEP: Final = "crop"
"""Name of the step in the history of a signal that was cut."""


def crop(signal: Signal, *, start_s: float, end_s: float) -> Signal:
    """Keep the samples of an interval, both ends included.

    Parameters
    ----------
    signal
        Any signal.
    start_s, end_s
        Interval, s.

    Returns
    -------
    Signal
        Its history gains ``"crop"`` with the interval and the samples cut before and after it; the signal
        itself when nothing is cut.

    Raises
    ------
    SettingsError
        The interval ends before it starts.
    SignalError
        The interval reaches beyond the data or holds fewer than two samples.

    References
    ----------
    .. [1] No formula; that a crop is refused rather than shortened is a rule of this project.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> raw = Signal(samples=[0, 1, 2, 3], start_s=0.0, step_s=0.1, unit="g", channel="head ax")
    >>> str(crop(raw, start_s=0.1, end_s=0.3).history[-1])
    'crop (start_s=0.1, end_s=0.3, samples_before=1, samples_after=0)'
    """
    kept = samples_between(signal, start_s=start_s, end_s=end_s)
    if kept == slice(0, len(signal)):
        return signal
    if kept.stop - kept.start < 2:
        raise SignalError(
            f"the interval {start_s:.6g} s to {end_s:.6g} s holds a single sample",
            where=signal.place,
            remedy=f"make it at least two time steps ({2 * signal.step_s:.6g} s) long",
        )
    settings = {
        "start_s": float(f"{start_s:.12g}"),
        "end_s": float(f"{end_s:.12g}"),
        "samples_before": kept.start,
        "samples_after": len(signal) - kept.stop,
    }
    return signal.then(
        Step(CROP_STEP, settings),
        samples=signal.samples[kept],
        start_s=signal.start_s + kept.start * signal.step_s,
    )
