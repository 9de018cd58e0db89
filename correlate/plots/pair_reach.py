"""How far the sliders of a picture of a pair reach, in steps that read well."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

if TYPE_CHECKING:
    from correlate.campaign import PairScore
    from correlate.diagnosis.what_if import CurveChange
    from correlate.signal import Signal

_STEPS: Final = 400
"""About as many positions as a slider has pixels."""
_SCALES: Final = (0.5, 1.5)
_SCALE_STEP: Final = 0.005
_OFFSET_SHARE: Final = 0.5


@dataclass(frozen=True, slots=True, kw_only=True)
class Reach:
    """Ends and step of a slider.

    Attributes
    ----------
    low, high, step
        In the unit of the slider.
    """

    low: float
    high: float
    step: float


@dataclass(frozen=True, slots=True, kw_only=True)
class ChangeReach:
    """The sliders that change the curve of a model.

    Attributes
    ----------
    shift_ms
        In ms.
    scale
        A factor.
    offset
        In the unit of the pair.
    """

    shift_ms: Reach
    scale: Reach
    offset: Reach


def change_reach(score: PairScore, change: CurveChange) -> ChangeReach:
    """Return how far a curve may be changed.

    Parameters
    ----------
    score
        Of the pair.
    change
        Present one; a slider reaches at least so far.

    Returns
    -------
    ChangeReach
        Shift as far as the phase score looks, scale by half, offset by half of the test's largest value.
    """
    rating = score.rating
    duration_s = rating.pair.step_s * rating.samples
    largest = float(np.abs(rating.pair.reference).max())
    low, high = _SCALES
    return ChangeReach(
        shift_ms=_symmetric(1e3 * rating.settings.largest_shift * duration_s, 1e3 * abs(change.shift_s)),
        scale=Reach(low=min(low, change.scale), high=max(high, change.scale), step=_SCALE_STEP),
        offset=_symmetric(_OFFSET_SHARE * largest, abs(change.offset)),
    )


def interval_reach(reference: Signal, candidate: Signal) -> Reach:
    """Return the time that both signals cover, in ms.

    Parameters
    ----------
    reference, candidate
        Conditioned, not yet cut to the interval; on one grid.

    Returns
    -------
    Reach
        In whole steps, inside of what both cover.
    """
    start_s = max(reference.start_s, candidate.start_s)
    end_s = min(reference.end_s, candidate.end_s)
    step_ms = 1e3 * reference.step_s
    # A hair wider, so that rounding does not cost a step.
    first, last = math.ceil(1e3 * start_s / step_ms - 1e-6), math.floor(1e3 * end_s / step_ms + 1e-6)
    return Reach(low=_digits(first * step_ms), high=_digits(last * step_ms), step=_digits(step_ms))


def round_step(width: float) -> float:
    """Return the least of 1, 2, 5 times a power of ten that is not below a width.

    Parameters
    ----------
    width
        Above zero.

    Returns
    -------
    float

    Examples
    --------
    >>> round_step(0.03), round_step(2.0), round_step(7.0)
    (0.05, 2.0, 10.0)
    """
    power = 10.0 ** math.floor(math.log10(width))
    return _digits(next(times * power for times in (1, 2, 5, 10) if times * power >= width * (1 - 1e-9)))


def _symmetric(reach: float, at_least: float) -> Reach:
    step = round_step(max(reach, at_least) / (_STEPS / 2))
    end = _digits(math.ceil(max(reach, at_least) / step - 1e-9) * step)
    return Reach(low=-end, high=end, step=step)


def _digits(value: float) -> float:
    """Drop the last digits, which are rounding."""
    return float(f"{value:.12g}")
