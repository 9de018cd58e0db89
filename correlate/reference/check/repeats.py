"""Faults that show among repeats of a test."""

from __future__ import annotations

import math
from dataclasses import dataclass
from types import MappingProxyType
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.display import short_repr
from correlate.reference.finding import Finding, RepairProposal
from correlate.unit_factors import FACTOR_SLACK, confused_units
from correlate.units import parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterator, Mapping, Sequence

    from numpy.typing import NDArray

    from correlate.reference.check.statistics import ChannelStatistics
    from correlate.reference.finding import Severity

    Floats = NDArray[np.float64]


def middle(values: Sequence[float], favoured: float) -> float:
    """Return the median; of two middle values, whatever lies between them and nearest to the favoured one.

    Examples
    --------
    >>> middle([1.0, 9.81, 1.02], favoured=1.0), middle([1.0, 9.81], favoured=1.0)
    (1.02, 1.0)
    """
    ordered = sorted(values)
    low, high = ordered[(len(ordered) - 1) // 2], ordered[len(ordered) // 2]
    return min(max(favoured, low), high)


POINTS: Final = 1200
"""A curve is averaged down to about so many points."""
COARSE_POINTS: Final = 400
"""Points of the search for a stretch."""
LARGEST_STRETCH: Final = 6.0
"""Stretches from its reciprocal to this are tried."""
STRETCHES: Final = 31
"""Number of stretches of the first round."""
SAME_DURATION: Final = 1.06
"""No stretch is looked for when the durations of the two curves differ by less than this factor."""


@short_repr
@dataclass(frozen=True, slots=True, eq=False)
class RepeatCurve:
    """A channel without offset, in SI, averaged over short blocks.

    Attributes
    ----------
    start_s, step_s
        Time base, s.
    values
        Shape ``(m,)``, SI.
    """

    start_s: float
    step_s: float
    values: Floats

    @property
    def end_s(self) -> float:
        """Time of the last point, s."""
        return self.start_s + self.step_s * (self.values.size - 1)

    @property
    def duration_s(self) -> float:
        """Standard deviation of time, weighted with the squared values, s: it scales with the time axis."""
        weight = self.values**2
        index = np.arange(weight.size)
        total = float(weight.sum())
        if total == 0:
            return self.step_s
        mean = float(index @ weight) / total
        return self.step_s * max(1.0, math.sqrt(float((index - mean) ** 2 @ weight) / total))

    @property
    def time_s(self) -> Floats:
        """Times of the points, shape ``(m,)``, s."""
        return np.asarray(self.start_s + self.step_s * np.arange(self.values.size), dtype=np.float64)

    def at(self, time_s: NDArray[np.floating[Any]]) -> Floats:
        """Return the curve at given times, straight between its points; 0 beyond its ends."""
        return np.asarray(np.interp(time_s, self.time_s, self.values, left=0.0, right=0.0))


@dataclass(frozen=True, slots=True)
class RepeatLikeness:
    """The best match of one curve with another.

    Attributes
    ----------
    correlation
        Size of the normalised correlation, in [0, 1].
    sign
        1, or −1 when the turned curve matches better.
    gain
        Size of the first over that of the second at the best match.
    shift_s
        How much later the first is, s.
    stretch
        How much longer the first lasts; 1 unless another stretch explains the curve far better.
    stretched_correlation
        At that stretch.
    """

    correlation: float
    sign: int
    gain: float
    shift_s: float
    stretch: float
    stretched_correlation: float

    def turned_round(self) -> RepeatLikeness:
        """Return the match of the second with the first."""
        return RepeatLikeness(
            self.correlation,
            self.sign,
            1 / self.gain if self.gain else 0.0,
            -self.shift_s,
            1 / self.stretch,
            self.stretched_correlation,
        )


def curve_of(facts: ChannelStatistics) -> RepeatCurve:
    """Return a channel as a short curve."""
    signal = facts.signal
    block = max(1, len(signal) // POINTS)
    count = len(signal) // block
    values = facts.calm[: count * block].reshape(count, block).mean(axis=1) - facts.baseline
    return RepeatCurve(
        start_s=signal.start_s + (block - 1) / 2 * signal.step_s,
        step_s=block * signal.step_s,
        values=values * parse_unit(signal.unit).factor,
    )


def likeness(one: RepeatCurve, other: RepeatCurve) -> RepeatLikeness:
    r"""Find sign, gain, shift and stretch that make two curves most alike.

    References
    ----------
    .. [1] Normalised cross-correlation by Fourier transform; any textbook of signal processing. The search
       over stretches: derived here.
    """
    a, b, step_s, apart_s = _common(one, other)
    value, lag = _best_match(a, b)
    gain = _gain(a, b, lag)
    stretch, stretched = _best_stretch(one, other, abs(value))
    return RepeatLikeness(
        correlation=abs(value),
        sign=1 if value >= 0 else -1,
        gain=gain,
        shift_s=lag * step_s + apart_s,
        stretch=stretch,
        stretched_correlation=stretched,
    )


def squared_error(one: RepeatCurve, other: RepeatCurve) -> float:
    r"""Return the least squared difference of two curves over all shifts, over the squares of the second.

    .. math:: e = \min_m \frac{\sum (a_{i+m} - b_i)^2}{\sum b_i^2}
                = \frac{E_a + E_b - 2\,\max_m \sum a_{i+m} b_i}{E_b}

    Parameters
    ----------
    one, other
        Curves without offset, zero beyond their ends.

    Returns
    -------
    float
        0 for equal curves; infinite when the second is zero.
    """
    a, b, _, _ = _common(one, other)
    energy_a, energy_b = float(a @ a), float(b @ b)
    if energy_b == 0:
        return math.inf
    best = float(_correlation(a, b).max()) * math.sqrt(energy_a * energy_b)
    return (energy_a + energy_b - 2 * best) / energy_b


def _common(one: RepeatCurve, other: RepeatCurve) -> tuple[Floats, Floats, float, float]:
    """Return both on one step, the step and by how much the first starts later.

    Where they share most of their time, both are cut to it, so that a longer record is not a difference.
    """
    step_s = max(one.step_s, other.step_s)
    start_s, end_s = max(one.start_s, other.start_s), min(one.end_s, other.end_s)
    shorter_s = min(one.end_s - one.start_s, other.end_s - other.start_s)
    if end_s - start_s >= 0.5 * shorter_s:
        time = start_s + step_s * np.arange(int((end_s - start_s) / step_s * (1 + 1e-9)) + 1)
        return one.at(time), other.at(time), step_s, 0.0
    a, b = (
        curve.at(curve.start_s + step_s * np.arange(int((curve.end_s - curve.start_s) / step_s) + 1))
        for curve in (one, other)
    )
    return a, b, step_s, one.start_s - other.start_s


def _correlation(a: Floats, b: Floats) -> Floats:
    """Return the normalised correlation at every lag from ``-(b.size - 1)`` to ``a.size - 1``."""
    size = 1 << (a.size + b.size - 1).bit_length()
    spectrum = np.fft.rfft(a, size) * np.conj(np.fft.rfft(b, size))
    circular = np.fft.irfft(spectrum, size)
    lags = np.concatenate((circular[size - (b.size - 1) :], circular[: a.size]))
    scale = math.sqrt(float(a @ a) * float(b @ b))
    return lags / scale if scale > 0 else np.zeros_like(lags)


def _best_match(a: Floats, b: Floats) -> tuple[float, float]:
    """Return the correlation of largest size, with its sign, and its lag in steps."""
    values = _correlation(a, b)
    best = int(np.abs(values).argmax())
    lag = float(best - (b.size - 1))
    if 0 < best < values.size - 1:
        left, mid, right = np.abs(values[best - 1 : best + 2])
        bend = left - 2 * mid + right
        if bend < 0:
            lag += float(0.5 * (left - right) / bend)
    return float(values[best]), lag


def _gain(a: Floats, b: Floats, lag: float) -> float:
    """Return the size of ``a`` over ``b``: the root of the ratio of their energies where both overlap."""
    move = round(lag)
    first, second = a[max(0, move) :], b[max(0, -move) :]
    size = min(first.size, second.size)
    energy = float(second[:size] @ second[:size])
    return math.sqrt(float(first[:size] @ first[:size]) / energy) if energy > 0 else 0.0


def _best_stretch(one: RepeatCurve, other: RepeatCurve, unstretched: float) -> tuple[float, float]:
    """Return the stretch of the first against the second, and the correlation at it."""
    if abs(math.log(one.duration_s / other.duration_s)) < math.log(SAME_DURATION):
        return 1.0, unstretched
    step_s = max(one.end_s - one.start_s, other.end_s - other.start_s) / COARSE_POINTS
    a = one.at(one.start_s + step_s * np.arange(int((one.end_s - one.start_s) / step_s) + 1))

    spectra: dict[int, NDArray[np.complex128]] = {}
    energy = float(a @ a)

    def value(log_stretch: float) -> float:
        stretch = math.exp(log_stretch)
        length_s = (other.end_s - other.start_s) * stretch
        b = other.at(other.start_s + step_s / stretch * np.arange(int(length_s / step_s) + 1))
        length = 1 << (a.size + b.size - 1).bit_length()
        if length not in spectra:
            spectra[length] = np.fft.rfft(a, length)
        products = np.fft.irfft(spectra[length] * np.conj(np.fft.rfft(b, length)), length)
        size = math.sqrt(energy * float(b @ b))
        # A pulse that is shorter than the coarse step may fall between its points.
        return float(np.abs(products).max()) / size if size > 0 else 0.0

    grid = np.linspace(-math.log(LARGEST_STRETCH), math.log(LARGEST_STRETCH), STRETCHES)
    scores = [value(float(log_stretch)) for log_stretch in grid]
    best = int(np.argmax(scores))
    fine = grid[best] + (grid[1] - grid[0]) * np.linspace(-1, 1, 9)
    fine_scores = [value(float(log_stretch)) for log_stretch in fine]
    top = int(np.argmax(fine_scores))
    if fine_scores[top] <= unstretched:
        return 1.0, unstretched
    return math.exp(float(fine[top])), fine_scores[top]


ALIKE: Final = 0.85
"""Correlation from which two recordings are the same event."""
UNLIKE: Final = 0.7
"""Correlation below which one is called unlike the others."""
SMALL: Final = 30.0
"""A peak of fewer times the noise cannot be compared."""
STRETCHED: Final = 1.12
"""Smallest stretch that counts."""
EXPLAINED: Final = 0.35
"""A stretch counts when it leaves no more than this share of the misfit."""
WIDEST_SLACK: Final = 0.2
"""A ratio may lie as far from a factor between units as the repeats differ in size, up to this share."""
OTHER_GAIN: Final = 1.5
"""Ratio from which a gain without a name is worth a warning."""
LARGE_SHIFT_S: Final = 0.0015
"""Shift against the other repeats that gives a warning, s: more than two triggers differ …"""
LARGE_SHIFT_SHARE: Final = 0.035
"""… or this share of the event, which a softer material delays."""
GRAVE_SHIFT_S: Final = 0.005
"""Shift that is an error, s …"""
GRAVE_SHIFT_SHARE: Final = 0.1
"""… and which it must exceed as a share of the event too."""
ALONE_SHIFT_S: Final = 0.0007
"""Shift against the other channels of the test that gives a warning, s: one trigger starts them all …"""
ALONE_SHIFT_SHARE: Final = 0.04
"""… or this share of the event."""
UNSTEADY: Final = 2.5
"""A shift within so many times the range of the shifts among the other repeats is not reported."""
FEWEST_CHANNELS: Final = 3
"""Channels that show when a test was triggered."""


@dataclass(frozen=True, slots=True)
class _Verdict:
    """What most of the other repeats say about one."""

    correlation: float
    sign: int
    gain: float
    shift_s: float
    stretch: float
    stretched_correlation: float
    others: int
    gain_range: float


@dataclass(frozen=True, slots=True)
class _Timing:
    """How late a channel is, and which part of that gives a finding; shifts in s.

    Attributes
    ----------
    shift_s
        Against the other repeats.
    alone_s
        Against the other channels of the test; 0 where they do not tell.
    limit_s, alone_limit_s
        What each may be.
    """

    shift_s: float
    alone_s: float
    limit_s: float
    alone_limit_s: float

    @property
    def is_off(self) -> bool:
        return abs(self.shift_s) > self.limit_s or self.is_alone

    @property
    def is_alone(self) -> bool:
        return abs(self.alone_s) > self.alone_limit_s


def trigger_shifts(
    facts: Sequence[ChannelStatistics],
    matches: Mapping[tuple[int, str], Sequence[tuple[ChannelStatistics, RepeatLikeness]]],
    index: int,
) -> dict[str, float]:
    """Return how much later a test was triggered than each other one, by the median of its channels, s.

    Tests that share fewer than three channels that are alike are left out.
    """
    shifts: dict[str, list[float]] = {}
    for item in facts:
        if not item.is_minor:
            for other, match in matches.get((index, item.signal.channel), ()):
                if match.correlation >= ALIKE and not _is_stretched(_verdict([match])):
                    shifts.setdefault(other.file, []).append(match.shift_s)
    return {
        file: float(np.median(values)) for file, values in shifts.items() if len(values) >= FEWEST_CHANNELS
    }


def examine_among_repeats(
    facts: ChannelStatistics,
    matches: Sequence[tuple[ChannelStatistics, RepeatLikeness]],
    trigger: Mapping[str, float] = MappingProxyType({}),
) -> Iterator[Finding]:
    """Judge one channel of one repeat by its matches with the other repeats, and by when they were triggered.

    Nothing is said of a minor axis: misalignment and vibration differ from repeat to repeat.

    References
    ----------
    .. [1] Limits: chosen here. Factors: see ``correlate.units``.
    """
    loud = [pair for pair in matches if abs(pair[0].peak) > SMALL * pair[0].grain]
    if facts.is_minor or not loud or abs(facts.peak) <= SMALL * facts.grain:
        return
    verdict = _verdict([match for _, match in loud])
    if _is_stretched(verdict):
        # Sign, size and shift mean nothing until the time axis is right.
        yield _sample_rate(facts, loud, verdict)
        return
    if verdict.correlation < UNLIKE:
        yield _unlike(facts, verdict)
    if verdict.correlation < ALIKE:
        return
    timing = _timing(facts, loud, trigger)
    if timing.is_off:
        yield _time_zero(facts, verdict, timing)
    if verdict.sign < 0:
        yield _polarity(facts, verdict)
    yield from _gain_finding(facts, verdict)


def _verdict(matches: list[RepeatLikeness]) -> _Verdict:
    logs = [math.log(match.gain) for match in matches if match.gain > 0]
    return _Verdict(
        correlation=middle([match.correlation for match in matches], favoured=1.0),
        sign=1 if sum(match.sign for match in matches) >= 0 else -1,
        gain=middle([match.gain for match in matches], favoured=1.0),
        shift_s=middle([match.shift_s for match in matches], favoured=0.0),
        stretch=math.exp(middle([math.log(match.stretch) for match in matches], favoured=0.0)),
        stretched_correlation=middle([match.stretched_correlation for match in matches], favoured=1.0),
        others=len(matches),
        gain_range=max(logs) - min(logs) if logs else 0.0,
    )


def _is_stretched(verdict: _Verdict) -> bool:
    misfit, stretched = 1 - verdict.correlation, 1 - verdict.stretched_correlation
    return (
        abs(math.log(verdict.stretch)) > math.log(STRETCHED)
        and verdict.stretched_correlation >= ALIKE
        and stretched < EXPLAINED * misfit
    )


def _sample_rate(
    facts: ChannelStatistics, matches: list[tuple[ChannelStatistics, RepeatLikeness]], verdict: _Verdict
) -> Finding:
    step_s = facts.signal.step_s
    usual_s = float(np.median([other.signal.step_s for other, _ in matches]))
    named = abs(step_s / usual_s / verdict.stretch - 1) < 0.1
    right_s = usual_s if named else float(f"{step_s / verdict.stretch:.3g}")
    against = f" against {usual_s * 1e3:.4g} ms in the others" if named else ""
    return Finding(
        kind="sample rate",
        severity=_gravity(verdict),
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the event lasts {verdict.stretch:.3g} times as long as in the other repeats: the header's "
        f"step of {step_s * 1e3:.4g} ms{against} contradicts the samples",
        remedy=f"find the rate the recorder ran at; accept a step of {right_s * 1e3:.4g} ms if that was it",
        evidence={
            "stretch": round(verdict.stretch, 4),
            "correlation": round(verdict.correlation, 4),
            "correlation_stretched": round(verdict.stretched_correlation, 4),
            "step_s": step_s,
        },
        start_s=facts.signal.start_s,
        end_s=facts.signal.end_s,
        repair=RepairProposal("set sampling interval", {"step_s": right_s}),
    )


def _timing(
    facts: ChannelStatistics,
    matches: Sequence[tuple[ChannelStatistics, RepeatLikeness]],
    trigger: Mapping[str, float],
) -> _Timing:
    """Compare the shifts of a channel with the length of its event and with the scatter of the others."""
    shifts = [match.shift_s for _, match in matches]
    alone = [match.shift_s - trigger[other.file] for other, match in matches if other.file in trigger]
    return _Timing(
        shift_s=middle(shifts, favoured=0.0),
        alone_s=middle(alone, favoured=0.0) if alone else 0.0,
        limit_s=max(LARGE_SHIFT_S, LARGE_SHIFT_SHARE * facts.event_s, UNSTEADY * _range(shifts)),
        alone_limit_s=max(ALONE_SHIFT_S, ALONE_SHIFT_SHARE * facts.event_s, UNSTEADY * _range(alone)),
    )


def _range(values: Sequence[float]) -> float:
    """Return the range without the most distant value, where there are enough to leave one out."""
    if len(values) < 3:
        return max(values) - min(values) if values else 0.0
    ordered = sorted(values)
    return min(ordered[-2] - ordered[0], ordered[-1] - ordered[1])


def _time_zero(facts: ChannelStatistics, verdict: _Verdict, timing: _Timing) -> Finding:
    grave = abs(verdict.shift_s) > max(GRAVE_SHIFT_S, GRAVE_SHIFT_SHARE * facts.event_s, timing.limit_s)
    shift_s = timing.shift_s if abs(timing.shift_s) > timing.limit_s else timing.alone_s
    word = "late" if shift_s > 0 else "early"
    against = "the other channels of the test" if timing.is_alone else "the other repeats"
    return Finding(
        kind="time zero",
        severity=_gravity(verdict) if grave else "warning",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the event is {abs(shift_s) * 1e3:.3g} ms {word} against {against}",
        remedy="check the clock of the channel; accept the shift"
        if timing.is_alone
        else "check the trigger; accept the shift, or set time zero by a threshold",
        evidence={
            "shift_s": verdict.shift_s,
            "shift_against_channels_s": timing.alone_s,
            "correlation": round(verdict.correlation, 4),
        },
        start_s=facts.onset_s,
        end_s=facts.onset_s,
        repair=RepairProposal("shift time", {"offset_s": float(f"{-shift_s:.4g}")}),
    )


def _polarity(facts: ChannelStatistics, verdict: _Verdict) -> Finding:
    return Finding(
        kind="polarity",
        severity=_gravity(verdict),
        file=facts.file,
        channel=facts.signal.channel,
        what="the sign is opposite to that of the other repeats"
        if verdict.others > 1
        else "the sign is opposite to that of the other repeat",
        remedy="check how the transducer was mounted; accept the inverted sign",
        evidence={"correlation": round(-verdict.correlation, 4), "peak": facts.peak},
        start_s=facts.peak_s,
        end_s=facts.peak_s,
        repair=RepairProposal("turn sign"),
    )


def _gain_finding(facts: ChannelStatistics, verdict: _Verdict) -> Iterator[Finding]:
    known = confused_units(verdict.gain, min(max(FACTOR_SLACK, verdict.gain_range), WIDEST_SLACK))
    if known is None and not (verdict.gain > OTHER_GAIN or verdict.gain < 1 / OTHER_GAIN):
        return
    meaning = parse_unit(facts.signal.unit).dimension
    evidence = {"ratio": round(verdict.gain, 5), "correlation": round(verdict.correlation, 4)}
    if known is None:
        yield Finding(
            kind="gain",
            severity="warning",
            file=facts.file,
            channel=facts.signal.channel,
            what=f"the channel is {verdict.gain:.3g} times as large as in the other repeats",
            remedy="check calibration factor and amplifier range",
            evidence=evidence,
            start_s=facts.peak_s,
            end_s=facts.peak_s,
        )
        return
    yield Finding(
        kind="unit",
        severity=_gravity(verdict),
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the {meaning} is {verdict.gain:.4g} times as large as in the other repeats, near "
        f"{known[1]:.5g}, the factor between {known[0]}",
        remedy=f"correct the unit in the header ({facts.signal.unit}), or accept the division",
        evidence={**evidence, "factor": known[1]},
        start_s=facts.peak_s,
        end_s=facts.peak_s,
        repair=RepairProposal("divide by factor", {"factor": known[1]}),
    )


def _unlike(facts: ChannelStatistics, verdict: _Verdict) -> Finding:
    return Finding(
        kind="unlike repeats",
        severity="warning",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the curve is unlike the other repeats: its correlation is {verdict.correlation:.2f} at best",
        remedy="look at the curves side by side; check that it is the same channel of the same test",
        evidence={"correlation": round(verdict.correlation, 4)},
        start_s=facts.signal.start_s,
        end_s=facts.signal.end_s,
    )


def _gravity(verdict: _Verdict) -> Severity:
    return "error" if verdict.others > 1 else "warning"
