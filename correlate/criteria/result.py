"""What a criterion returns, the arrays it takes, and the caution shown with it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.display import short_repr
from correlate.errors import SettingsError, SignalError
from correlate.samples import frozen_samples

if TYPE_CHECKING:
    import numpy as np
    from numpy.typing import ArrayLike, NDArray

    Floats = NDArray[np.float64]


CAUTION: Final = (
    "Criteria and windows inform; they do not certify: tolerances are set by the regulation or protocol in "
    "force, none of these values is a medical judgement, and only an accredited laboratory and the "
    "responsible authority can certify a device or a vehicle."
)
"""Shown with every criterion, limit and window."""

MEMORY_WORDS: Final = "from memory"
CHECKED_WORDS: Final = "checked against the published text"


def provenance(source: str, *, checked: bool) -> str:
    """Return a source with the words that say how far it was checked.

    Parameters
    ----------
    source
        Regulation and section, or paper.
    checked
        Whether the numbers were compared with the published text.

    Returns
    -------
    str

    Examples
    --------
    >>> provenance("49 CFR 572.33", checked=False)
    '49 CFR 572.33, from memory'
    """
    return f"{source}, {CHECKED_WORDS if checked else MEMORY_WORDS}"


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class CriterionResult:
    """A criterion and when it came about.

    Attributes
    ----------
    value
        In the unit of the criterion.
    start_s, end_s
        The stretch of time behind the value, from the first sample on, in s. Equal for an instant.
    """

    value: float
    start_s: float
    end_s: float


def at_instant(value: float, index: int, step_s: float) -> CriterionResult:
    """Return a result that belongs to one sample.

    Parameters
    ----------
    value
        In the unit of the criterion.
    index
        Of the sample, from 0.
    step_s
        Sampling interval, s.

    Returns
    -------
    CriterionResult

    Examples
    --------
    >>> at_instant(4.2, 3, 0.5)
    CriterionResult(value=4.2, start_s=1.5, end_s=1.5)
    """
    time_s = int(index) * float(step_s)
    return CriterionResult(value=float(value), start_s=time_s, end_s=time_s)


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
