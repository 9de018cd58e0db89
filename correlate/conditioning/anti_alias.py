"""The band limit that a signal needs before it goes onto a coarser grid."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.conditioning.cfc import FILTER_STEP, forward_and_backward, frequency_class, pad_samples
from correlate.conditioning.interval import GRID_TOLERANCE
from correlate.signal import Step

if TYPE_CHECKING:
    from correlate.signal import Signal

ANTI_ALIAS_STEP: Final = "anti-alias filter"
"""Name of the step that takes away what a coarser grid cannot carry."""
CUT_FRACTION: Final = 0.3
"""−6 dB frequency of the filter, as a fraction of the new sample rate."""
POLES: Final = 4
"""Poles of one pass of the filter."""


def is_band_limited(signal: Signal, step_s: float) -> bool:
    """Say whether a signal may go onto a grid without folding high frequencies down.

    Parameters
    ----------
    signal
        Any signal.
    step_s
        Time step of the grid, s.

    Returns
    -------
    bool
        True when the grid is no coarser than the signal's own, when the history holds a channel frequency
        class that may be used at the new rate, or an anti-alias filter for a rate as low.

    References
    ----------
    .. [1] That a class's lowest sample rate also carries a signal filtered with it: derived here; at half
       that rate the classes let 3 % of the amplitude through.
    """
    rate_hz = (1 + GRID_TOLERANCE) / step_s
    if signal.step_s * (1 + GRID_TOLERANCE) >= step_s:
        return True
    return any(_suits(step, rate_hz) for step in signal.history)


def limit_band(signal: Signal, step_s: float) -> Signal:
    """Filter away what a coarser grid cannot carry, without phase.

    A four-pole Butterworth low-pass, run forward and backward: half the amplitude remains at 0.3 of the new
    sample rate, 1.7 % or less at half of it, 99 % or more up to 0.16 of it.

    Parameters
    ----------
    signal
        Sampled more finely than `step_s`.
    step_s
        Time step of the coming grid, s.

    Returns
    -------
    Signal
        Same grid and unit. Its history gains ``"anti-alias filter"``.

    References
    ----------
    .. [1] Corner and order: chosen here, so that half the new rate is weakened about as much as CFC 1000
       weakens it at its lowest rate.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> raw = Signal(samples=[1.0] * 500, start_s=0.0, step_s=1e-5, unit="g", channel="head ax")
    >>> limit_band(raw, 1e-4).history[-1].settings["minus_6_db_hz"]
    3000.0
    """
    from scipy.signal import butter  # noqa: PLC0415 - slow to import, needed only here

    cut_hz = round(CUT_FRACTION / step_s, 6)
    sections = butter(POLES, cut_hz, fs=signal.sample_rate_hz, output="sos")
    pad = pad_samples(signal)
    settings = {
        "minus_6_db_hz": cut_hz,
        "method": "four-pole Butterworth forward and backward",
        "pad_samples": pad,
    }
    return signal.then(Step(ANTI_ALIAS_STEP, settings), samples=forward_and_backward(sections, signal, pad))


def _suits(step: Step, rate_hz: float) -> bool:
    if step.name == FILTER_STEP:
        return frequency_class(step.settings["cfc"]).lowest_rate_hz <= rate_hz
    return step.name == ANTI_ALIAS_STEP and step.settings["minus_6_db_hz"] <= CUT_FRACTION * rate_hz
