"""The emulated curve of one channel at one point: mean, 95 % interval and rating."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.display import short_repr
from correlate.errors import SignalError
from correlate.metrics.iso18571 import rate_many
from correlate.pair import AlignedPair
from correlate.tuning.emulator import moved

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from correlate.metrics.iso18571 import Rating, RatingSettings
    from correlate.tuning.emulator import ChannelEmulator
    from correlate.tuning.traces import TraceChannel

    Floats = NDArray[np.float64]


HALF_WIDTH: Final = 1.959964
"""Half width of a 95 % interval, in standard deviations."""
_SAMPLES: Final = 64
"""Number of draws where the deviation has no closed form; its sampling error is then about 9 %."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EmulatedCurve:
    """A curve predicted by the emulator.

    Attributes
    ----------
    time
        Shape ``(t,)``, s.
    mean
        Expected, shape ``(t,)``, in the unit of the channel.
    low, high
        Ends of the 95 % interval of a new run at each time, shape ``(t,)``.
    """

    time: Floats
    mean: Floats
    low: Floats
    high: Floats


def emulated_curve(emulator: ChannelEmulator, cube: Floats) -> EmulatedCurve:
    """Return the emulated curve of a channel at a point.

    Parameters
    ----------
    emulator
        Of the channel.
    cube
        The point of the unit cube, shape ``(d,)``.

    Returns
    -------
    EmulatedCurve
        The interval is the mean ± 1.96 standard deviations, from those of the coefficients and from the
        truncation residuals. With a shift in time, the standard deviation is estimated by sampling.
    """
    mean, deviation = emulator.moments(cube[None, :])
    curve = emulator.curves(mean)[0]
    half = HALF_WIDTH * _deviation(emulator, mean[0], deviation[0], curve)
    return EmulatedCurve(time=emulator.channel.time, mean=curve, low=curve - half, high=curve + half)


def _deviation(emulator: ChannelEmulator, amounts: Floats, deviation: Floats, curve: Floats) -> Floats:
    """Return the standard deviation of a new run at each time, shape ``(t,)``."""
    left = np.mean(emulator.left**2, axis=0)
    if emulator.shift is None:
        return np.asarray(np.sqrt(deviation**2 @ emulator.basis**2 + left))
    normal = np.random.default_rng(0).standard_normal((_SAMPLES // 2, emulator.count))
    # Antithetic draws, so that their mean is that of the coefficients.
    sampled = amounts + deviation * np.vstack([normal, -normal])
    # Without the linear algebra of several threads, which wait for each other on a busy machine: a curve
    # that follows a slider has some ten milliseconds.
    straight = emulator.mean + np.einsum("mk,kt->mt", sampled[:, :-1], emulator.basis)
    drawn = moved(straight, sampled[:, -1])
    return np.asarray(np.sqrt(np.mean((drawn - curve) ** 2, axis=0) + left))


@dataclass(frozen=True, slots=True, kw_only=True)
class CurveTrust:
    """How well the curves of left-out runs are predicted.

    Attributes
    ----------
    q2
        Share of the variance of the curves that the other runs predict; nan where the curves do not differ.
    inside
        Share of the samples of the left-out runs inside the 95 % interval predicted from the other runs.
    runs
        How many were left out, one at a time.
    """

    q2: float
    inside: float
    runs: int


def curve_trust(emulator: ChannelEmulator, curves: Floats) -> CurveTrust:
    """Compare the curves of the runs, shape ``(n, t)``, with their leave-one-out predictions."""
    spread = float(np.sum((curves - curves.mean(axis=0)) ** 2))
    if not emulator.processes:
        return CurveTrust(q2=float("nan"), inside=1.0, runs=len(curves))
    said = [process.left_out() for process in emulator.every]
    amounts = np.array([one.predicted for one in said]).T
    deviation = emulator.widening * np.array([one.deviation for one in said]).T
    half = [
        HALF_WIDTH * _deviation(emulator, *one)
        for one in zip(amounts, deviation, emulator.left_out, strict=True)
    ]
    away = curves - emulator.left_out
    return CurveTrust(
        q2=1.0 - float(np.sum(away**2)) / spread,
        inside=float(np.mean(np.abs(away) <= np.array(half))),
        runs=len(curves),
    )


def predicted_ratings(channel: TraceChannel, curve: Floats, settings: RatingSettings) -> Mapping[str, Rating]:
    """Rate a curve of shape ``(t,)`` against each test of its channel, by the name of the test.

    Empty where a channel has no tests, or where it cannot be rated.
    """
    pairs = [
        AlignedPair(time=channel.time, reference=test, candidate=curve) for test in channel.tests.values()
    ]
    try:
        return dict(zip(channel.tests, rate_many(pairs, settings, threads=1), strict=True))
    except SignalError:
        return {}
