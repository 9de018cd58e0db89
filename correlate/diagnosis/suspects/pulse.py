"""Where the main pulse of a curve lies."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

PULSE_SHARE: Final = 0.2
"""The main pulse is the stretch about the largest value that stays above this share of it …"""
EVENT_SHARE: Final = 0.05
"""… and the event runs from the first to the last sample above this one."""


@dataclass(frozen=True, slots=True)
class MainPulse:
    """Sample numbers, both ends included.

    Attributes
    ----------
    first, top, last
        Of the main pulse and its largest value.
    event_first, event_last
        Of the whole event.
    ends
        Whether the pulse begins and ends within the record.
    """

    first: int
    top: int
    last: int
    event_first: int
    event_last: int
    ends: bool


def main_pulse(samples: Floats) -> MainPulse:
    """Find the main pulse.

    Parameters
    ----------
    samples
        Shape ``(n,)``, at rest at zero.

    Returns
    -------
    MainPulse

    References
    ----------
    .. [1] Shares chosen here.

    Examples
    --------
    >>> import numpy as np
    >>> found = main_pulse(np.array([0.0, 0.1, -0.5, -1.0, -0.4, 0.0]))
    >>> found.first, found.top, found.last
    (2, 3, 4)
    """
    size = np.abs(samples)
    top = int(size.argmax())
    sign = 1.0 if samples[top] >= 0 else -1.0
    below = np.flatnonzero(sign * samples <= PULSE_SHARE * size[top])
    before, after = below[below < top], below[below > top]
    event = np.flatnonzero(size > EVENT_SHARE * size[top])
    return MainPulse(
        first=int(before[-1]) + 1 if before.size else 0,
        top=top,
        last=int(after[0]) - 1 if after.size else size.size - 1,
        event_first=int(event[0]) if event.size else 0,
        event_last=int(event[-1]) if event.size else size.size - 1,
        ends=bool(before.size and after.size),
    )
