"""Axes of a static drawing: which range they show, where their ticks stand, where a value lies."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.plots.wording import number

if TYPE_CHECKING:
    from collections.abc import Sequence

_ROOM: Final = 0.05
"""Share of the range that is left free above and below curves."""
_USUAL_TICKS: Final = 7
_STEPS: Final = (1.0, 2.0, 2.5, 5.0, 10.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class Scale:
    """One axis: values on one side, px on the other.

    Attributes
    ----------
    low, high
        Range of values.
    start, end
        Where they lie, px; upright axes begin at the bottom.
    ticks
        Values with their texts.
    layout
        Of the axis in the figure.
    """

    low: float
    high: float
    start: float
    end: float
    ticks: tuple[tuple[float, str], ...]
    layout: Any

    def at(self, value: float) -> float:
        """Return where a value lies, px."""
        return self.start + (value - self.low) / (self.high - self.low) * (self.end - self.start)

    def many(self, values: Any) -> np.ndarray[Any, np.dtype[np.float64]]:
        """Return where values lie, px."""
        shares = (np.asarray(values, dtype=np.float64) - self.low) / (self.high - self.low)
        return np.asarray(self.start + shares * (self.end - self.start))


def make_scale(layout: Any, values: Sequence[Any], *, start: float, end: float, tight: bool) -> Scale:
    """Return the scale of an axis.

    Parameters
    ----------
    layout
        Of the axis in the figure: its range and ticks are kept.
    values
        Arrays that must find room where no range is set.
    start, end
        Of the panel, px.
    tight
        Whether the range ends with the values, as it does along time.

    Returns
    -------
    Scale
    """
    low, high = _range(layout, values, tight=tight)
    return Scale(low=low, high=high, start=start, end=end, ticks=_ticks(layout, low, high), layout=layout)


def nice_ticks(low: float, high: float, most: int) -> list[float]:
    """Return round values inside a range, at most so many and evenly spaced.

    Parameters
    ----------
    low, high
        Of the range.
    most
        Ticks.

    Returns
    -------
    list of float

    Examples
    --------
    >>> nice_ticks(0.0, 10.0, 6), nice_ticks(-0.3, 0.3, 4)
    ([0.0, 2.0, 4.0, 6.0, 8.0, 10.0], [-0.2, 0.0, 0.2])
    """
    rough = (high - low) / max(most - 1, 1)
    power = 10.0 ** math.floor(math.log10(rough))
    step = next(one * power for one in _STEPS if one * power >= rough * (1 - 1e-9))
    first = math.ceil(low / step - 1e-9)
    last = math.floor(high / step + 1e-9)
    return [float(f"{place * step:.12g}") + 0.0 for place in range(first, last + 1)]


def _range(layout: Any, values: Sequence[Any], *, tight: bool) -> tuple[float, float]:
    if layout.range is not None:
        low, high = (float(end) for end in layout.range)
        return low, high
    found = [np.asarray(one, dtype=np.float64) for one in values]
    known = np.concatenate([one[np.isfinite(one)] for one in found]) if found else np.array([])
    low, high = (float(known.min()), float(known.max())) if known.size else (0.0, 1.0)
    if layout.rangemode == "tozero":
        low, high = min(low, 0.0), max(high, 0.0)
    if low == high:
        low, high = low - 0.5, high + 0.5
    room = 0.0 if tight else _ROOM * (high - low)
    if layout.rangemode == "tozero":
        return low - room * (low < 0), high + room * (high > 0)
    return low - room, high + room


def _ticks(layout: Any, low: float, high: float) -> tuple[tuple[float, str], ...]:
    if layout.tickvals is not None:
        places = [float(value) for value in layout.tickvals]
        words = [str(text) for text in layout.ticktext or [number(value) for value in places]]
    else:
        places = nice_ticks(low, high, layout.nticks or _USUAL_TICKS)
        words = [_tick_words(value, layout.tickformat) for value in places]
    return tuple((value, text) for value, text in zip(places, words, strict=True) if low <= value <= high)


def _tick_words(value: float, form: str | None) -> str:
    return format(value, form).replace("-", "−") if form else number(value)
