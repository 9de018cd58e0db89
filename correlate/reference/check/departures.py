"""What is left of a channel beside its repeats once size, time and duration are fitted."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.reference.check.repeats import RepeatCurve

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


ROUNDS: Final = 2
"""Rounds of the fit."""
SHORTEST: Final = 40
"""Fewest points on which two curves are compared."""
GAIN_SCATTER: Final = 0.15
"""Standard deviation of the size among fault-free repeats …"""
SHIFT_SCATTER_S: Final = 0.0001
"""… of the time of a channel against that of its test, s …"""
STRETCH_SCATTER: Final = 0.03
"""… of the duration …"""
TURN_SCATTER: Final = 0.06
"""… and of the share of another axis in an axis: a sensor is turned by a degree or two."""
LARGEST: Final = 0.5
"""No term of the fit goes further: a size of half, or a shift of half a second."""
MISFIT: Final = 0.05
"""Misfit, over the root mean square of the curve, that weighs as much as one of these standard deviations."""


@dataclass(frozen=True, slots=True, eq=False)
class Departure:
    """One channel beside one other repeat.

    Attributes
    ----------
    time_s, places_s
        Shape ``(n,)``: the points of the channel that both share, and where the repeat was read for them.
    own
        Shape ``(n,)``: the channel there, SI.
    rest
        Shape ``(n + p,)``: what the fit of ``p`` terms leaves of it, and how far the terms had to go.
    fitted
        Shape ``(n + p, p)``: orthonormal directions that the fit has taken out.
    """

    time_s: Floats
    places_s: Floats
    own: Floats
    rest: Floats
    fitted: Floats

    @property
    def energy(self) -> float:
        """Sum of the squares of the rest."""
        return float(self.rest @ self.rest)

    @property
    def share(self) -> float:
        """Energy of the rest over that of the channel."""
        energy = float(self.own @ self.own)
        return self.energy / energy if energy > 0 else 0.0

    def without_fitted(self, values: Floats) -> Floats:
        """Take the fitted directions out of other values at the same points."""
        padded = np.concatenate((values, np.zeros(self.rest.size - values.size)))
        return np.asarray(padded - self.fitted @ (self.fitted.T @ padded))


@dataclass(frozen=True, slots=True, kw_only=True)
class Allowance:
    """How far fault-free repeats differ.

    Attributes
    ----------
    start_s
        From when on a stretch counts: the beginning of the event.
    shift_s
        Standard deviation of the shift.
    axes
        Other axes of the sensor, a small part of which may be in the channel.
    foreign
        Other channels, any part of which may be in the channel.
    """

    start_s: float
    shift_s: float = SHIFT_SCATTER_S
    axes: tuple[RepeatCurve, ...] = ()
    foreign: tuple[RepeatCurve, ...] = ()


def departure(one: RepeatCurve, other: RepeatCurve, shift_s: float, allowed: Allowance) -> Departure | None:
    """Fit another repeat to a channel.

    Parameters
    ----------
    one, other
        The channel and the repeat.
    shift_s
        How much later the first is.
    allowed
        How far the fit may go.

    Returns
    -------
    Departure or None
        None where the two share too little time.
    """
    own_s = one.time_s
    inside = (own_s - shift_s >= other.start_s) & (own_s - shift_s <= other.end_s)
    time_s = own_s[inside]
    if time_s.size < SHORTEST:
        return None
    places_s = np.asarray(time_s - shift_s)
    return fitted_at(one.values[inside], other, allowed, time_s=time_s, places_s=places_s)


def fitted_at(
    own: Floats,
    other: RepeatCurve,
    allowed: Allowance,
    *,
    time_s: Floats,
    places_s: Floats,
    later: Floats | None = None,
) -> Departure:
    r"""Fit another repeat, read at given places :math:`u`, to samples of a channel.

    .. math:: \min_\theta \frac{\sum_i (a_i - (1 + g)\, b(u_i + \alpha + \beta \tau_i) - c - d\,t_i)^2}
        {\epsilon^2 \sum_i a_i^2} + \frac{g^2}{\sigma_g^2} + \frac{\alpha^2}{\sigma_\alpha^2}
        + \frac{\beta^2}{\sigma_\beta^2}

    with :math:`\tau` the time since the event began. Where a part of the samples is ``later`` (1 there, 0
    elsewhere), it has a shift of its own.

    References
    ----------
    .. [1] Least squares with a prior (ridge regression), Gauss-Newton: any textbook. Weights: chosen here.
    """
    ways, added, scatter = _terms(own.size, time_s, allowed, later)
    weights = np.diag(MISFIT * math.sqrt(float(own @ own)) / scatter)
    moving = 1 + ways.shape[1]
    terms = np.zeros(scatter.size)
    for turn in range(ROUNDS + 1):
        moved_s = places_s + ways @ terms[1:moving]
        beside = other.at(moved_s)
        slope = (1 + terms[0]) * np.gradient(beside, float(time_s[1] - time_s[0]))
        columns = np.column_stack((beside, slope[:, None] * ways, added))
        target = own - (1 + terms[0]) * beside + columns[:, :moving] @ terms[:moving]
        goal = np.concatenate((target, np.zeros(scatter.size)))
        fitted, triangle, size = _orthonormal(np.vstack((columns, weights)))
        if turn < ROUNDS:
            terms = np.linalg.lstsq(triangle, fitted.T @ goal, rcond=1e-9)[0] / size
            terms[:moving] = np.clip(terms[:moving], -LARGEST, LARGEST)
    return Departure(time_s, moved_s, own, goal - fitted @ (fitted.T @ goal), fitted)


def _terms(
    count: int, time_s: Floats, allowed: Allowance, later: Floats | None
) -> tuple[Floats, Floats, Floats]:
    """Return what moves the repeat, ``(n, w)``, what is added to it, ``(n, l)``, and how far terms scatter.

    The scatter has shape ``(1 + w + l,)``; the size comes first.
    """
    since_s = np.clip(time_s - allowed.start_s, 0.0, None)
    ways = [np.ones(count), since_s] + ([] if later is None else [later])
    added = [np.ones(count), (time_s - time_s.mean()) / np.ptp(time_s)]
    scatter = [GAIN_SCATTER, allowed.shift_s, STRETCH_SCATTER, *[math.inf] * (len(ways) - 2)]
    scatter += [math.inf] * len(added) + [TURN_SCATTER] * len(allowed.axes)
    scatter += [math.inf] * len(allowed.foreign)
    added += [curve.at(time_s) for curve in (*allowed.axes, *allowed.foreign)]
    return np.transpose(ways), np.transpose(added), np.array(scatter)


def _orthonormal(system: Floats) -> tuple[Floats, Floats, Floats]:
    """Return orthonormal directions of the columns, their triangle, and the lengths that it leaves out."""
    size = np.linalg.norm(system, axis=0)
    size[size == 0] = 1.0
    fitted, triangle = np.linalg.qr(system / size)
    return fitted, triangle, size


def coarser(curve: RepeatCurve, points: int) -> RepeatCurve:
    """Average a curve down to about so many points."""
    block = max(1, curve.values.size // points)
    count = curve.values.size // block
    return RepeatCurve(
        start_s=curve.start_s + (block - 1) / 2 * curve.step_s,
        step_s=block * curve.step_s,
        values=curve.values[: count * block].reshape(count, block).mean(axis=1),
    )
