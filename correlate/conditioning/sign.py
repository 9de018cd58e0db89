"""Invert the sign of a signal."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.signal import Step

if TYPE_CHECKING:
    from correlate.signal import Signal

SIGN_STEP: Final = "turn sign"
"""Name of the step in the history of a signal whose sign was turned."""


def turn_sign(signal: Signal) -> Signal:
    """Multiply by −1, for a channel whose polarity differs from its counterpart's.

    Parameters
    ----------
    signal
        Any signal.

    Returns
    -------
    Signal
        Its history gains ``"turn sign"``.

    References
    ----------
    .. [1] Polarities: SAE J1733, from memory; the page on conditioning lists those relied on.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> deflection = Signal(samples=[0, -40], start_s=0, step_s=1e-4, unit="mm", channel="sternum")
    >>> turn_sign(deflection).samples
    array([ 0., 40.])
    """
    # Subtracting from zero, because negating would leave a zero that prints as -0.
    return signal.then(Step(SIGN_STEP), samples=0.0 - signal.samples)
