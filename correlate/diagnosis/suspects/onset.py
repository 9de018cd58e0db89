"""The onset of a curve."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from correlate.signal import Signal

ONSET_SHARE: Final = 0.1
"""The event begins where a curve first passes this share of its largest value."""


def onset_s(signal: Signal) -> float:
    """Find where a curve sets out.

    Parameters
    ----------
    signal
        Conditioned, at rest at zero before the event.

    Returns
    -------
    float
        Time of the first sample beyond a tenth of the largest value, s.

    References
    ----------
    .. [1] Share chosen here.

    Examples
    --------
    >>> from correlate.signal import Signal
    >>> curve = Signal(samples=[0, 0, -1, -3, 8], start_s=0, step_s=0.1, unit="g", channel="head ax")
    >>> round(onset_s(curve), 9)
    0.2
    """
    size = np.abs(signal.samples)
    return float(signal.time_s[int(np.argmax(size >= ONSET_SHARE * size.max()))])
