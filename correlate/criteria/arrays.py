"""Input validation of the criteria: plain arrays are checked here, once."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from correlate.errors import SettingsError, SignalError
from correlate.samples import frozen_samples

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


def checked_curves(step_s: float, **curves: ArrayLike) -> tuple[Floats, ...]:
    """Return curves of one length as finite, read-only float64 arrays.

    Parameters
    ----------
    step_s
        Sampling interval, s.
    **curves
        Each of shape ``(n,)``; the keyword names the curve in messages.

    Returns
    -------
    tuple of numpy.ndarray
        In the order given.

    Raises
    ------
    SettingsError
        The step is not a finite number above zero.
    SignalError
        A sample is not finite, fewer than two samples, or unequal lengths.
    """
    if not (math.isfinite(step_s) and step_s > 0):
        raise SettingsError(f"step_s is {step_s!r}", remedy="give a number of seconds above zero")
    arrays = tuple(frozen_samples(curve, channel=name) for name, curve in curves.items())
    if len({array.size for array in arrays}) > 1:
        listed = ", ".join(f"{name} {array.size}" for name, array in zip(curves, arrays, strict=True))
        raise SignalError(
            f"the curves differ in their number of samples: {listed}",
            remedy="resample and crop them to one grid first",
        )
    return arrays


def checked_positive(name: str, value: float) -> float:
    """Return a setting that has to be a finite number above zero.

    Parameters
    ----------
    name
        For the message.
    value
        The setting.

    Returns
    -------
    float

    Raises
    ------
    SettingsError
        It is not.
    """
    if not (math.isfinite(value) and value > 0):
        raise SettingsError(f"{name} is {value!r}", remedy="give a finite number above zero")
    return float(value)
