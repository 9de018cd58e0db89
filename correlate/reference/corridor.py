"""Corridors over time: what the hardware does, as a band, and how much of a model lies in it."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from correlate.conditioning.time_axis import multiples_between
from correlate.display import frame, short_repr
from correlate.errors import SettingsError, SignalError
from correlate.samples import frozen_samples, handed_over
from correlate.statistics import LEVEL, student_quantile

if TYPE_CHECKING:
    from numpy.typing import NDArray
    from pandas import DataFrame

    from correlate.reference.repeats import RepeatSet
    from correlate.signal import Signal

    Floats = NDArray[np.float64]


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Corridor:
    """A band around a centre curve.

    Attributes
    ----------
    time_s
        Shape ``(n,)``, s.
    centre, lower, upper
        Shape ``(n,)``, in `unit`.
    unit, channel
        As in the repeats.
    kind
        In words, for instance ``mean ± 1 SD``.
    repeats
        Number of repeats behind it.
    assumptions
        Assumptions under which it says what other tests would do.
    """

    time_s: Floats
    centre: Floats
    lower: Floats
    upper: Floats
    unit: str
    channel: str
    kind: str
    repeats: int
    assumptions: tuple[str, ...]

    def to_frame(self) -> DataFrame:
        """Return a data frame with centre, lower and upper edge by time in s.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        columns = {"centre": self.centre, "lower": self.lower, "upper": self.upper}
        return frame(columns, index=self.time_s).rename_axis(index="time_s")


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Inside:
    """How much of a curve lies in a corridor.

    Attributes
    ----------
    share
        Of the samples compared, in [0, 1].
    inside
        Shape ``(n,)``: sample by sample.
    outside_s
        First and last time of every stretch outside, s.
    furthest
        Largest distance from the corridor, in its unit; 0 when all is inside.
    furthest_s
        When.
    """

    share: float
    inside: NDArray[np.bool_]
    outside_s: tuple[tuple[float, float], ...]
    furthest: float
    furthest_s: float


_ALIGNED = "repeats were aligned in time, so scatter in timing shows in the shifts, not in the corridor"
_REGISTERED = (
    "features were brought to common times, so scatter in their times shows in the moves, not in the corridor"
)


def spread_corridor(repeats: RepeatSet, *, times: float = 1.0) -> Corridor:
    r"""Return the corridor :math:`\bar x(t) \pm k\,s(t)`.

    Parameters
    ----------
    repeats
        At least two.
    times
        :math:`k`, above 0.

    Returns
    -------
    Corridor

    Raises
    ------
    SignalError
        There is a single repeat.
    SettingsError
        `times` is not above zero.

    References
    ----------
    .. [1] Sample mean and standard deviation; any textbook.

    Examples
    --------
    >>> import numpy as np
    >>> from correlate import Signal
    >>> from correlate.reference.repeats import repeat_set
    >>> def flat(value: float) -> Signal:
    ...     return Signal(samples=np.full(30, value), start_s=0, step_s=1e-4, unit="N", channel="force")
    >>> band = spread_corridor(repeat_set([flat(9), flat(10), flat(11)]), times=2.0)
    >>> float(band.lower[0]), float(band.upper[0])
    (8.0, 12.0)
    """
    _check_count(repeats)
    if not 0 < times < float("inf"):
        raise SettingsError(
            f"the corridor is {times!r} standard deviations wide", remedy="give a number above 0"
        )
    half = times * repeats.standard_deviation
    return corridor_of(
        repeats,
        repeats.mean,
        handed_over(repeats.mean - half),
        handed_over(repeats.mean + half),
        kind=f"mean ± {times:g} SD",
        assumptions=(
            "at each instant the repeats are independent draws from one normal distribution",
            (
                f"with {len(repeats)} repeats the standard deviation itself is uncertain: "
                f"{share_within(times, len(repeats)):.0%} of further tests lie inside at each instant"
            ),
        ),
    )


def share_within(times: float, count: int) -> float:
    r"""Return the probability that a further value lies within so many standard deviations of the mean.

    .. math:: P\Bigl(|t_{n-1}| \le k / \sqrt{1 + 1/n}\Bigr)

    Parameters
    ----------
    times
        :math:`k`.
    count
        :math:`n`, values that mean and standard deviation were computed from.

    Returns
    -------
    float

    References
    ----------
    .. [1] Prediction interval of one further value of a normal distribution: any textbook.

    Examples
    --------
    >>> [round(share_within(times, 3), 3) for times in (1, 2)]
    [0.522, 0.775]
    """
    from scipy.special import stdtr  # noqa: PLC0415 - slow to load

    return float(2 * stdtr(count - 1, times / math.sqrt(1 + 1 / count)) - 1)


def range_corridor(repeats: RepeatSet) -> Corridor:
    """Return the corridor from the least to the largest value of the repeats.

    Parameters
    ----------
    repeats
        At least two.

    Returns
    -------
    Corridor

    Raises
    ------
    SignalError
        There is a single repeat.

    References
    ----------
    .. [1] Share that a further repeat falls inside: ``(k - 1) / (k + 1)`` for independent draws from one
       continuous distribution (order statistics; any textbook).
    """
    _check_count(repeats)
    count = len(repeats)
    share = (count - 1) / (count + 1)
    return corridor_of(
        repeats,
        repeats.mean,
        repeats.smallest,
        repeats.largest,
        kind="least to largest",
        assumptions=(
            f"a further repeat lies inside with probability {share:.0%} at each instant",
            "the repeats are independent draws from one distribution, whatever it is",
        ),
    )


def prediction_corridor(repeats: RepeatSet, *, level: float = LEVEL) -> Corridor:
    r"""Return the band that contains a further test at each instant with a given probability.

    .. math:: \bar x(t) \pm t_{(1 + p)/2,\,n - 1}\; s(t)\, \sqrt{1 + 1/n}

    Parameters
    ----------
    repeats
        At least two.
    level
        :math:`p`, in (0, 1).

    Returns
    -------
    Corridor

    Raises
    ------
    SignalError
        There is a single repeat.
    SettingsError
        `level` is not between 0 and 1.

    Notes
    -----
    At each instant, not at all of them: a further curve leaves the band somewhere much more often. For whole
    curves see :func:`~correlate.reference.whole_curve.whole_curve_corridor`.

    References
    ----------
    .. [1] Prediction interval of one further value of a normal distribution: any textbook.

    Examples
    --------
    Three repeats with a standard deviation of 1: the quantile is 4.303.

    >>> import numpy as np
    >>> from correlate import Signal
    >>> from correlate.reference.repeats import repeat_set
    >>> def flat(value: float) -> Signal:
    ...     return Signal(samples=np.full(30, value), start_s=0, step_s=1e-4, unit="N", channel="force")
    >>> band = prediction_corridor(repeat_set([flat(9), flat(10), flat(11)]))
    >>> round(float(band.upper[0]), 3)
    14.968
    """
    _check_count(repeats)
    check_level(level)
    count = len(repeats)
    half = (
        student_quantile((1 + level) / 2, count - 1) * repeats.standard_deviation * math.sqrt(1 + 1 / count)
    )
    return corridor_of(
        repeats,
        repeats.mean,
        handed_over(repeats.mean - half),
        handed_over(repeats.mean + half),
        kind=f"{level:.0%} of further tests, at each instant",
        assumptions=(
            f"a further test lies inside with probability {level:.0%} at each instant, not at all of them",
            "at each instant the repeats are independent draws from one normal distribution",
        ),
    )


def inside_corridor(corridor: Corridor, candidate: Signal) -> Inside:
    """Say how much of a conditioned curve lies in a corridor.

    Parameters
    ----------
    corridor
        Of the repeats.
    candidate
        The model, conditioned with the same recipe: on the same grid, at least over the corridor's interval.

    Returns
    -------
    Inside

    Raises
    ------
    SignalError
        The candidate is on another grid or does not cover the corridor.
    UnitError
        It measures something else.
    """
    values = candidate.in_unit(corridor.unit)
    step_s = float(corridor.time_s[1] - corridor.time_s[0])
    first = round((corridor.time_s[0] - candidate.start_s) / step_s)
    on_grid = abs(candidate.step_s / step_s - 1) < 1e-6 and (
        abs(candidate.start_s + first * step_s - corridor.time_s[0]) < 1e-3 * step_s
    )
    if not on_grid or first < 0 or first + corridor.time_s.size > len(candidate):
        low, high = multiples_between(candidate.start_s, candidate.end_s, step_s)
        raise SignalError(
            f"the curve is not on the corridor's grid of {step_s:.6g} s from {corridor.time_s[0]:.6g} s to "
            f"{corridor.time_s[-1]:.6g} s (it has {low * step_s:.6g} s to {high * step_s:.6g} s)",
            where=candidate.place,
            remedy="condition it with the recipe of the repeats",
        )
    curve = values.samples[first : first + corridor.time_s.size]
    beyond = np.maximum(np.maximum(corridor.lower - curve, curve - corridor.upper), 0.0)
    # Rounding must not push a curve off an edge that it lies on.
    slack = 1e-12 * float(np.abs(corridor.upper).max() + np.abs(corridor.lower).max())
    inside = beyond <= slack
    worst = int(beyond.argmax())
    return Inside(
        share=float(inside.mean()),
        inside=inside,
        outside_s=_stretches(~inside, corridor.time_s),
        furthest=float(beyond[worst]) if not inside.all() else 0.0,
        furthest_s=float(corridor.time_s[worst]),
    )


def check_level(level: float) -> None:
    """Refuse a probability that is not between 0 and 1."""
    if not 0 < level < 1:
        raise SettingsError(f"the level is {level!r}", remedy="give a probability between 0 and 1")


def _check_count(repeats: RepeatSet) -> None:
    if len(repeats) < 2:
        raise SignalError(
            "a corridor needs two repeats or more, this channel has one",
            where=repeats.channel,
            remedy="test again",
        )


def corridor_of(
    repeats: RepeatSet,
    centre: Floats,
    lower: Floats,
    upper: Floats,
    *,
    kind: str,
    assumptions: tuple[str, ...],
) -> Corridor:
    """Return a corridor of repeats; how they were aligned is added to the assumptions."""
    if any(repeats.shifts_s):
        assumptions = (*assumptions, _ALIGNED)
    if repeats.landmarks:
        assumptions = (*assumptions, _REGISTERED)
    return Corridor(
        time_s=repeats.time_s,
        centre=frozen_samples(centre, channel=repeats.channel),
        lower=frozen_samples(lower, channel=repeats.channel),
        upper=frozen_samples(upper, channel=repeats.channel),
        unit=repeats.unit,
        channel=repeats.channel,
        kind=kind,
        repeats=len(repeats),
        assumptions=assumptions,
    )


def _stretches(flags: NDArray[np.bool_], time_s: Floats) -> tuple[tuple[float, float], ...]:
    edges = np.flatnonzero(np.diff(np.concatenate(([False], flags, [False])).astype(np.int8)))
    return tuple(
        (float(time_s[start]), float(time_s[stop - 1]))
        for start, stop in zip(edges[::2], edges[1::2], strict=True)
    )
