"""Where a window and the values measured against it lie on a strip."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.criteria import QuantityVerdict

_ROOM: Final = 0.08


@dataclass(frozen=True, slots=True, kw_only=True)
class WindowStrip:
    """A strip that holds a window and all values, as shares of its length.

    Attributes
    ----------
    low, high
        Ends of the window.
    marks
        One a value, in their order; None where nothing was measured.
    """

    low: float
    high: float
    marks: tuple[float | None, ...]


def window_strip(verdicts: Sequence[QuantityVerdict]) -> WindowStrip:
    """Return where window and values lie.

    Parameters
    ----------
    verdicts
        Of one quantity, one a recording.

    Returns
    -------
    WindowStrip
        The window takes at least a part of the strip, however far away a value is.
    """
    low, high = verdicts[0].low, verdicts[0].high
    values = [verdict.value for verdict in verdicts]
    known = [value for value in values if value is not None]
    start, end = min([low, *known]), max([high, *known])
    room = _ROOM * (end - start or 1.0)
    start, length = start - room, (end - start or 1.0) + 2 * room

    def place(value: float) -> float:
        return (value - start) / length

    marks = tuple(None if value is None else place(value) for value in values)
    return WindowStrip(low=place(low), high=place(high), marks=marks)
