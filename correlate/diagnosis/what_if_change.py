"""A simple change of a whole model curve: later, larger, higher, slower."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from correlate.display import short_repr
from correlate.errors import SettingsError
from correlate.pair import AlignedPair


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class CurveChange:
    """A change of the whole model curve: ``scale · c((t - shift - t0) / stretch + t0) + offset``.

    Attributes
    ----------
    shift_s
        Added to the times of the model, s: positive makes it later.
    scale
        Factor on the values.
    offset
        Added to the values, in their unit.
    stretch
        Factor on the time since the first sample: above 1 makes the model slower.
    """

    shift_s: float = 0.0
    scale: float = 1.0
    offset: float = 0.0
    stretch: float = 1.0


def apply_change(
    pair: AlignedPair, *, shift_s: float = 0.0, scale: float = 1.0, offset: float = 0.0, stretch: float = 1.0
) -> AlignedPair:
    r"""CurveChange the candidate of a pair, for a question and never for a result.

    .. math:: c'(t) = s\,c\left(t_0 + \frac{t - \Delta - t_0}{q}\right) + o

    Parameters
    ----------
    pair
        Shape ``(n,)``.
    shift_s
        :math:`\Delta`, s: positive makes the candidate later.
    scale, offset
        :math:`s`, dimensionless, and :math:`o`, in the unit of the curves.
    stretch
        :math:`q`, dimensionless, above 0: above 1 makes the candidate slower.

    Returns
    -------
    AlignedPair
        On the same grid: linear between the samples; before the first and after the last sample the curve
        keeps its end value.

    Raises
    ------
    SettingsError
        A value that is not finite, or a stretch that is not above 0.

    References
    ----------
    .. [1] Derived here.

    Examples
    --------
    >>> pair = AlignedPair(time=[0.0, 1.0, 2.0], reference=[0, 1, 0], candidate=[0, 2, 4])
    >>> apply_change(pair, shift_s=1.0, scale=0.5).candidate.tolist()
    [0.0, 0.0, 1.0]
    """
    if not (np.isfinite([shift_s, scale, offset, stretch]).all() and stretch > 0):
        raise SettingsError(
            f"a change by shift {shift_s} s, scale {scale}, offset {offset}, stretch {stretch} is impossible",
            remedy="give finite numbers and a stretch above 0",
        )
    start = pair.time[0]
    asked = start + (pair.time - shift_s - start) / stretch
    moved = pair.candidate if shift_s == 0 and stretch == 1 else np.interp(asked, pair.time, pair.candidate)
    return AlignedPair(time=pair.time, reference=pair.reference, candidate=scale * moved + offset)


def changed(pair: AlignedPair, change: CurveChange) -> AlignedPair:
    """Apply a change that was found.

    Parameters
    ----------
    pair
        Shape ``(n,)``.
    change
        From :func:`correlate.diagnosis.what_if.what_if`.

    Returns
    -------
    AlignedPair
        As of :func:`apply_change`.
    """
    return apply_change(
        pair,
        shift_s=change.shift_s,
        scale=change.scale,
        offset=change.offset,
        stretch=change.stretch,
    )
