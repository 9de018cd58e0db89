"""Time zero of a test: one shift that all channels of a load case have in common."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.conditioning import shift_time
from correlate.diagnosis.suspects.case import Suspect, paired, rated
from correlate.diagnosis.suspects.delays import (
    LAST_RANGE_S,
    DelayErrors,
    cut_to_interval,
    delay_errors,
    least_inside,
    ranges_s,
)
from correlate.diagnosis.suspects.timing import onset_s
from correlate.metrics.iso18571 import RatingSettings
from correlate.statistics import LEVEL, student_quantile

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from numpy.typing import NDArray

    from correlate.conditioning import Recipe
    from correlate.signal import Signal

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class TimedChannel:
    """One channel of a load case with its repeats.

    Attributes
    ----------
    name
        Of the test.
    tests
        Repeats, conditioned, not cut to the interval.
    model
        Conditioned, not cut.
    recipe
        How they were conditioned; the time step is that of the load case.
    """

    name: str
    tests: tuple[Signal, ...]
    model: Signal
    recipe: Recipe


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class CommonDelay:
    """The delay that suits all channels of a load case best.

    Attributes
    ----------
    delay_s
        Of the model, s; positive when it is late.
    names
        Channels that were compared: those that resemble the test at some delay.
    before, left
        Squared error of each of them without a shift and with it, mean over the repeats, over the squares of
        the test.
    scattered
        The part of it that a perfect model would leave, because the repeats scatter; zeros with fewer than
        three.
    own_s
        The delay that suits each channel best, s.
    onsets_s
        The onset of the model in each channel minus that of the tests, s.
    repeats_s
        The common delay against each repeat, s.
    """

    delay_s: float
    names: tuple[str, ...]
    before: Floats
    left: Floats
    scattered: Floats
    own_s: Floats
    onsets_s: Floats
    repeats_s: Floats

    @property
    def pooled(self) -> float:
        """Error that the shift leaves, as a share of the error before, without what the repeats explain."""
        left = np.maximum(self.left - self.scattered, 0.0)
        before = np.maximum(self.before - self.scattered, 0.0)
        return float(left.sum() / max(before.sum(), 1e-300))

    @property
    def typical(self) -> float:
        """The same as a geometric mean over the channels, so that each has one vote."""
        ratios = (self.left + FLOOR) / (self.before + FLOOR)
        return float(np.exp(np.log(ratios).mean()))

    @property
    def agreeing(self) -> float:
        """Share of the channels whose onsets lie apart by about the common delay."""
        apart_s = np.abs(self.onsets_s - self.delay_s)
        return float(np.mean(apart_s <= max(ONSET_SLACK_S, ONSET_SLACK * abs(self.delay_s))))

    @property
    def scatter_s(self) -> float:
        r"""What the delay of a further repeat would exceed in 5 % of all cases, s; 0 with fewer than three.

        .. math:: s^2 = \frac{\nu_0 s_0^2 + (n - 1) s_\tau^2}{\nu_0 + n - 1}, \qquad
                  |\tau| \le t_{0.975,\,\nu_0 + n - 1}\, s \sqrt{1 + 1/n}
        """
        count = len(self.repeats_s)
        if count < LEAST_REPEATS:
            return 0.0
        degrees = TYPICAL_DEGREES + count - 1
        own = (count - 1) * float(self.repeats_s.var(ddof=1))
        spread = math.sqrt((TYPICAL_DEGREES * TYPICAL_S**2 + own) / degrees)
        return student_quantile(0.5 + LEVEL / 2, degrees) * spread * math.sqrt(1 + 1 / count)


TYPICAL_S: Final = 0.0005
"""Standard deviation that the delays of repeats typically have, s …"""
TYPICAL_DEGREES: Final = 4
"""… and the degrees of freedom that this is worth beside those of the repeats (both chosen here)."""
LEAST_REPEATS: Final = 3
"""Fewer repeats say nothing of their scatter."""
LEAST_CHANNELS: Final = 2
"""With one channel, a shift of the test cannot be distinguished from one of the channel."""
UNLIKE: Final = 0.6
"""A channel that keeps more error than this at every delay is no witness (chosen here)."""
LEAST_WITNESSES: Final = 0.6
"""Share of the channels that must be witnesses (chosen here)."""
FLOOR: Final = 0.002
"""Squared error that a good model leaves, over the squares of the test (chosen here)."""
LEAST_S: Final = 0.0026
"""Smaller common shifts are not suspected, s (chosen here) …"""
MOST_POOLED: Final = ((0.004, 0.03), (0.009, 0.1), (math.inf, 0.15))
"""… nor those that leave more than a share of the error before: the second number, up to the first, s. A gap
may delay all channels by up to 4 ms, and a model is rarely late by more than 9 ms as a whole …"""
MOST_LEFT: Final = 0.3
"""… or that leave more than this share of the squares of the test, mean over the channels …"""
MOST_TYPICAL: Final = 0.3
"""… or more of the error before than this, where each channel has one vote …"""
LEAST_WITH_ONSETS_S: Final = 0.004
"""… unless the delay is at least this, s …"""
LEAST_AGREEING: Final = 0.75
"""… the onsets of this share of the channels lie apart alike …"""
ONSET_SLACK_S: Final = 0.001
ONSET_SLACK: Final = 0.25
"""… within so many s, or this share of the delay, whichever is larger …"""
MOST_POOLED_WITH_ONSETS: Final = 0.5
MOST_TYPICAL_WITH_ONSETS: Final = 0.7
"""… and no more of the error before is left than these shares, together and where each has one vote."""


def common_delay(channels: Sequence[TimedChannel]) -> CommonDelay | None:
    """Find the one delay of the model that leaves least error in all channels together.

    Parameters
    ----------
    channels
        Of one load case, on one time step.

    Returns
    -------
    CommonDelay or None
        None with fewer than two channels that resemble the test at some delay, or where the least error lies
        at the end of what was recorded: the curves are too short then.

    References
    ----------
    .. [1] Derived here.
    """
    table = [(one, errors) for one in channels if (errors := _errors(one))]
    candidates = [_within(table, range_s) for range_s in ranges_s()]
    inside = [one for one in candidates if one is not None]
    return min(inside, key=lambda one: float(np.log(one.left + FLOOR).mean()), default=None)


def _within(
    widest: Sequence[tuple[TimedChannel, Sequence[DelayErrors]]], range_s: float
) -> CommonDelay | None:
    """Look for the delay in one range; None where it is at the border of what could be compared."""
    table = [(one, np.array([each.within(range_s).values for each in errors])) for one, errors in widest]
    rows = [(one, errors) for one, errors in table if float(errors.mean(axis=0).min()) <= UNLIKE]
    if len(rows) < max(LEAST_CHANNELS, LEAST_WITNESSES * len(table)):
        return None
    means = np.array([errors.mean(axis=0) for _, errors in rows])
    # The product of the errors: a channel that is known closely counts more than one that fits loosely.
    together = np.log(means + FLOOR).mean(axis=0)
    delay, middle = least_inside(together), together.size // 2
    if delay is None:
        return None
    count, step_s = min(len(errors) for _, errors in rows), rows[0][0].recipe.step_s
    by_repeat = np.mean([errors[:count] for _, errors in rows], axis=0)
    return CommonDelay(
        delay_s=delay * step_s,
        names=tuple(one.name for one, _ in rows),
        # Where the model covers too little without the shift, it explains nothing of the test.
        before=np.where(np.isfinite(means[:, middle]), means[:, middle], 1.0),
        left=means[:, middle + delay],
        scattered=np.array([_scattered(one) for one, _ in rows]),
        own_s=(means.argmin(axis=1) - middle) * step_s,
        onsets_s=np.array([_onset_late_s(one) for one, _ in rows]),
        repeats_s=(by_repeat.argmin(axis=1) - middle) * step_s,
    )


def _errors(channel: TimedChannel) -> list[DelayErrors]:
    """Return the errors of a channel against each repeat in the widest range; none for a zero repeat."""
    found = (
        delay_errors(test, channel.model, channel.recipe, range_s=LAST_RANGE_S) for test in channel.tests
    )
    return [one for one in found if one is not None]


def _scattered(channel: TimedChannel) -> float:
    """Return the error that the mean of all possible repeats would leave, from the differences of these."""
    first, *others = (cut_to_interval(test, channel.recipe) for test in channel.tests)
    curves = np.array([first, *(one for one in others if one.size == first.size)])
    if len(curves) < LEAST_REPEATS:
        return 0.0
    return float(curves.var(axis=0, ddof=1).sum() / max((curves**2).mean(axis=0).sum(), 1e-300))


def _onset_late_s(channel: TimedChannel) -> float:
    return onset_s(channel.model) - float(np.mean([onset_s(test) for test in channel.tests]))


def is_time_zero(found: CommonDelay) -> bool:
    """Say whether a common delay is a shift of time zero and not what a slow or soft model leaves.

    References
    ----------
    .. [1] Derived here: a shift of the clock makes every channel fit at one delay; a softer or slower model
       delays its channels differently, the input not at all, and stretches them, so that error is left. Where
       a model has other errors too, the shift still shows in the onsets, which no material delays alike.
    """
    delay_s = abs(found.delay_s)
    return (
        delay_s >= max(LEAST_S, found.scatter_s)
        and float(found.left.mean()) <= MOST_LEFT
        and bool(np.all(found.left <= found.before))
        and (_fits(found) or _sets_out_late(found))
    )


def _fits(found: CommonDelay) -> bool:
    """Say whether the shift leaves so little that nothing else can be behind it."""
    most = next(most for up_to_s, most in MOST_POOLED if abs(found.delay_s) <= up_to_s)
    return found.pooled <= most and found.typical <= MOST_TYPICAL


def _sets_out_late(found: CommonDelay) -> bool:
    """Say whether the channels set out late alike, and the shift wins something in each."""
    return (
        abs(found.delay_s) >= LEAST_WITH_ONSETS_S
        and found.agreeing >= LEAST_AGREEING
        and found.pooled <= MOST_POOLED_WITH_ONSETS
        and found.typical <= MOST_TYPICAL_WITH_ONSETS
    )


def wrong_common_time_zero(
    found: CommonDelay | None, channels: Sequence[TimedChannel], settings: RatingSettings | None = None
) -> Suspect | None:
    """Suspect a shift of time zero that all channels of a load case have in common.

    Parameters
    ----------
    found
        The delay that suits the channels best, from :func:`common_delay`.
    channels
        Of one load case, on one time step.
    settings
        Of the rating; the published ones when left out.

    Returns
    -------
    Suspect or None
        Of kind ``time zero off``, without a channel; its ratings are means over channels and repeats. None
        where the shift is none of time zero, or wins nothing.

    References
    ----------
    .. [1] Criteria derived here; see :func:`is_time_zero`.
    """
    if found is None or not is_time_zero(found):
        return None
    chosen = settings or RatingSettings()
    before, after = (_mean_rating(channels, shift_s, chosen) for shift_s in (0.0, -found.delay_s))
    if before is None or after is None or after <= before:
        return None
    shifts_s = {one.name: one.recipe.candidate_shift_s - found.delay_s for one in channels}
    word = "late" if found.delay_s > 0 else "early"
    return Suspect(
        kind="time zero off",
        channel="",
        evidence=f"the model is {word} by the same time, {abs(found.delay_s) * 1e3:.1f} ms, in "
        f"{len(found.names)} channels; shifting it reduces the squared error from "
        f"{float(found.before.mean()):.2g} to {float(found.left.mean()):.2g} of the squares of the test; a "
        "soft or slow model delays its channels differently",
        fix=f"check the time zero of both sides; if it differs, {_to_write(shifts_s)}"
        f"{_too_short(channels, found.delay_s)}",
        rating_before=before,
        rating_after=after,
        change={"candidate_shifts_s": shifts_s},
        weight=1.0 - found.pooled,
    )


def _mean_rating(channels: Sequence[TimedChannel], shift_s: float, settings: RatingSettings) -> float | None:
    """Return the mean over the channels of the mean over their repeats, the model moved."""
    means = []
    for one in channels:
        moved = shift_time(one.model, shift_s) if shift_s else one.model
        ratings = [rated(paired(test, moved, one.recipe), settings) for test in one.tests]
        there = [rating for rating in ratings if rating is not None]
        if there:
            means.append(sum(there) / len(there))
    return sum(means) / len(means) if means else None


def _too_short(channels: Sequence[TimedChannel], delay_s: float) -> str:
    """Say that the record of a moved model no longer covers the interval; empty where it does."""
    for one in channels:
        start_s, end_s = one.model.start_s - delay_s, one.model.end_s - delay_s
        late = one.recipe.start_s is not None and start_s > one.recipe.start_s
        if late or (one.recipe.end_s is not None and end_s < one.recipe.end_s):
            return "; the model must then be computed for a longer time to cover the interval"
    return ""


def _to_write(shifts_s: Mapping[str, float]) -> str:
    """Return what to write into the campaign file: one override where all channels get the same shift."""
    values = {name: f"{shift_s * 1e3:.6g}" for name, shift_s in shifts_s.items()}
    if len(set(values.values())) == 1:
        value = next(iter(values.values()))
        return f'write [[load_case.override]] test = "*", model_shift_ms = {value} in this load case'
    listed = ", ".join(f"{value} for {name}" for name, value in values.items())
    return f"write these values of model_shift_ms in this load case: {listed}"
