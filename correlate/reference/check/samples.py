"""Faults of single samples: spikes, drop-outs, saturation, copies."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.reference.check.statistics import (
    CHANCE,
    chance_length,
    corner_sharpness,
    running_median,
    runs_of,
)
from correlate.reference.finding import Finding, RepairProposal, counted
from correlate.units import parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from correlate.reference.check.statistics import ChannelStatistics

    Floats = NDArray[np.float64]


WIDTH: Final = 7
"""Window of the running median, samples: it ignores up to three outliers."""
WIDEST: Final = 3
"""Most samples of a spike."""
SPIKE_LEAST_SHARE: Final = 0.02
"""Smallest spike, as a share of the peak."""
LARGE_SHARE: Final = 0.05
"""A spike of this share of the peak is worth a warning …"""
GRAVE_SHARE: Final = 0.1
"""… and of this share an error; a smaller one may be the first ring of a mount."""
LEAST_NOISES: Final = 10.0
"""Smallest spike, in standard deviations of the noise."""
SPIKE_OVER_SURROUNDINGS: Final = 4.0
"""A spike stands out from the residual around it by this factor."""
SPIKE_SURROUNDINGS: Final = 25
"""Samples on either side that count as its surroundings."""
SUDDEN: Final = 0.6
"""Share of its height that the first sample of a spike gains at once, and the last loses."""


def examine_spikes(facts: ChannelStatistics) -> Iterator[Finding]:
    """Look for samples that stand out from a running median and from their surroundings.

    References
    ----------
    .. [1] Criterion derived here; running medians after Tukey (1977).
    """
    samples = facts.signal.samples
    rest = samples - running_median(samples, WIDTH)
    size = np.abs(rest)
    least = max(SPIKE_LEAST_SHARE * abs(facts.peak), LEAST_NOISES * facts.noise, 3 * facts.resolution)
    if facts.peak == 0 or least == 0:
        return
    found = [run for run in runs_of(size > least) if _is_spike(samples, size, run)]
    if found:
        yield _spike_finding(facts, size, found)


def _is_spike(samples: Floats, size: Floats, run: tuple[int, int]) -> bool:
    top = run[0] + int(size[run[0] : run[1]].argmax())
    height = size[top]
    start, stop = top, top + 1
    while start > 0 and size[start - 1] > height / 2:
        start -= 1
    while stop < size.size and size[stop] > height / 2:
        stop += 1
    if stop - start > WIDEST or start == 0 or stop == size.size:
        return False
    sudden_in = abs(samples[start] - samples[start - 1]) >= SUDDEN * size[start]
    sudden_out = abs(samples[stop] - samples[stop - 1]) >= SUDDEN * size[stop - 1]
    if not (sudden_in and sudden_out):
        return False
    # Each side by itself: where an event sets in, one side is quiet.
    sides = (size[max(0, start - SPIKE_SURROUNDINGS) : start - 1], size[stop + 1 : stop + SPIKE_SURROUNDINGS])
    busy = max((float(np.percentile(side, 90)) for side in sides if side.size), default=0.0)
    return bool(height > SPIKE_OVER_SURROUNDINGS * busy)


def _spike_finding(facts: ChannelStatistics, size: Floats, found: list[tuple[int, int]]) -> Finding:
    heights = [float(size[start:stop].max()) for start, stop in found]
    largest = max(heights)
    share = largest / abs(facts.peak)
    spans = [(facts.time_s(start), facts.time_s(stop - 1)) for start, stop in found]
    return Finding(
        kind="spike",
        severity="error" if share > GRAVE_SHARE else "warning" if share > LARGE_SHARE else "note",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"{counted(len(found), 'spike')} of one to three samples, the largest of {largest:.4g} "
        f"{facts.signal.unit}, {share:.0%} of the peak",
        remedy="look for a loose contact; accept the bridge over the sample(s), or repeat the test",
        evidence={"spikes": len(found), "largest": largest, "share_of_peak": round(share, 4)},
        start_s=spans[0][0],
        end_s=spans[-1][1],
        repair=RepairProposal("bridge", {"spans_s": tuple(spans)}),
    )


LEAST_JUMP: Final = 0.05
"""Smallest jump into or out of a dropout, as a share of the peak."""
JUMP_NOISES: Final = 10.0
"""Smallest jump, in standard deviations of the noise."""
DROPOUT_OVER_SURROUNDINGS: Final = 3.0
"""A jump is larger than the steps around it by this factor."""
DROPOUT_SURROUNDINGS: Final = 12
"""Samples on either side of a jump."""
BESIDE_RUN: Final = 50
"""Samples on either side of a run of equal samples that show how often a slow curve repeats a value."""
BESIDE: Final = 9
"""Samples before and after a stretch at rest that tell a dropout from the rest between two spikes."""
LONGEST_SHARE: Final = 0.4
"""Longest dropout, as a share of the record."""
CORNER: Final = 6.0
"""Sharpness of the corners that tell a held value from a slow stretch."""


def examine_dropouts(facts: ChannelStatistics) -> Iterator[Finding]:
    """Look for runs of equal samples and for stretches at the baseline between two jumps.

    References
    ----------
    .. [1] Criterion derived here.
    """
    if facts.peak == 0:
        yield _dead(facts)
        return
    found = sorted({*_held(facts), *_fallen(facts)})
    merged: list[tuple[int, int]] = []
    for start, stop in found:
        if merged and start <= merged[-1][1] + 1:
            merged[-1] = (merged[-1][0], max(stop, merged[-1][1]))
        else:
            merged.append((start, stop))
    if merged:
        yield _dropout_finding(facts, merged)


def _held(facts: ChannelStatistics) -> list[tuple[int, int]]:
    """Return runs of equal samples that neither noise nor a slow curve explains."""
    samples = facts.signal.samples
    equal = np.concatenate((np.diff(samples) == 0, [False]))
    often = chance_length(facts)
    extremes = {float(samples.max()), float(samples.min())}
    runs = []
    for start, last in runs_of(equal):
        run = (start, last + 1)
        level = float(samples[start])
        at_extreme = level in extremes and abs(level - facts.baseline) > 3 * facts.grain
        if at_extreme or run[1] - run[0] < 4:
            continue
        if _is_printed_top(facts, run):
            continue
        longest = max(often, _slow_length(equal, run))
        if run[1] - run[0] > longest or _has_jump_and_corner(facts, run):
            runs.append(run)
    return runs


def _slow_length(equal: NDArray[np.bool_], run: tuple[int, int]) -> float:
    """Return the longest run that the samples beside one explain: a slow curve repeats its printed digits."""
    beside = np.concatenate(
        (equal[max(0, run[0] - BESIDE_RUN) : run[0]], equal[run[1] : run[1] + BESIDE_RUN])
    )
    share = (float(beside.sum()) + 1) / (beside.size + 2)
    return 1 + math.log(CHANCE / equal.size) / math.log(share)


def _is_printed_top(facts: ChannelStatistics, run: tuple[int, int]) -> bool:
    """Say whether a smooth curve turns round in a run, printed in digits coarser than the counts."""
    samples = facts.signal.samples
    start, stop = run
    if start == 0 or stop == samples.size:
        return False
    turns = (samples[start - 1] < samples[start]) == (samples[stop] < samples[start])
    steps = np.abs(np.diff(samples[max(0, start - BESIDE_RUN) : stop + BESIDE_RUN]))
    digit = float(steps[steps > 0].min(initial=np.inf))
    return (
        turns and facts.resolution < 0.5 * digit < np.inf and corner_sharpness(samples, run, digit) <= CORNER
    )


def _has_jump_and_corner(facts: ChannelStatistics, run: tuple[int, int]) -> bool:
    """Say whether a run of equal samples begins or ends in a jump, at sharp corners on both sides."""
    samples = facts.signal.samples
    start, stop = run
    if start == 0 or stop == samples.size:
        return False
    jump = max(abs(samples[start] - samples[start - 1]), abs(samples[stop] - samples[stop - 1]))
    least = max(LEAST_JUMP * abs(facts.peak), JUMP_NOISES * facts.noise, 4 * facts.resolution)
    return bool(
        jump > least and corner_sharpness(samples, run, facts.resolution or 1e-6 * abs(facts.peak)) > CORNER
    )


def _fallen(facts: ChannelStatistics) -> list[tuple[int, int]]:
    """Return stretches at the baseline or at zero between two jumps, or from a jump to the end."""
    samples = facts.signal.samples
    jumps = _jumps(facts)
    close = max(4 * facts.noise + 2 * facts.resolution, 0.01 * abs(facts.peak))
    rests = [level for level in {facts.baseline, 0.0} if np.isfinite(level)]
    at_rest = np.min([np.abs(samples - level) for level in rests], axis=0) <= close
    runs = []
    for start, stop in runs_of(at_rest):
        falls = start > 0 and start - 1 in jumps
        returns = stop < samples.size and stop - 1 in jumps
        long_enough = 4 <= stop - start <= LONGEST_SHARE * samples.size
        lost = falls and stop == samples.size and stop - start >= 4
        away = _is_away(at_rest[max(0, start - BESIDE) : start]) and (
            lost or _is_away(at_rest[stop : stop + BESIDE])
        )
        if away and ((falls and returns and long_enough) or lost):
            runs.append((start, stop))
    return runs


def _is_away(at_rest: NDArray[np.bool_]) -> bool:
    """Say whether most of a few samples are not at rest."""
    return at_rest.size > 0 and float(at_rest.mean()) < 0.5


def _jumps(facts: ChannelStatistics) -> set[int]:
    """Return the indices after which the signal jumps."""
    step = np.abs(np.diff(facts.signal.samples))
    least = max(LEAST_JUMP * abs(facts.peak), JUMP_NOISES * facts.noise, 4 * facts.resolution)
    found = set()
    for index in np.flatnonzero(step > least).tolist():
        before = step[max(0, index - DROPOUT_SURROUNDINGS) : max(0, index - 1)]
        after = step[index + 2 : index + 2 + DROPOUT_SURROUNDINGS]
        around = np.concatenate((before, after))
        if around.size and step[index] > DROPOUT_OVER_SURROUNDINGS * float(np.percentile(around, 80)):
            found.add(index)
    return found


def _dead(facts: ChannelStatistics) -> Finding:
    level = float(facts.signal.samples[0])
    return Finding(
        kind="dropout",
        severity="error",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the channel is constant at {level:.6g} {facts.signal.unit}",
        remedy="check the cable and the recorder; take the channel out or repeat the test",
        evidence={"level": level},
        start_s=facts.signal.start_s,
        end_s=facts.signal.end_s,
    )


def _dropout_finding(facts: ChannelStatistics, runs: list[tuple[int, int]]) -> Finding:
    lost = sum(stop - start for start, stop in runs)
    spans = [(facts.time_s(start), facts.time_s(stop - 1)) for start, stop in runs]
    inner = [span for span in spans if span[0] > facts.signal.start_s and span[1] < facts.signal.end_s]
    return Finding(
        kind="dropout",
        severity="error",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the signal is lost in {counted(len(runs), 'stretch', 'stretches')}, {lost} samples in all",
        remedy="check cable and recorder; accept the bridge when the stretch is short, or repeat the test",
        evidence={
            "stretches": len(runs),
            "samples": lost,
            "longest_s": max(end - start for start, end in spans),
        },
        start_s=spans[0][0],
        end_s=spans[-1][1],
        repair=RepairProposal("bridge", {"spans_s": tuple(inner)}) if len(inner) == len(spans) else None,
    )


SATURATION_LEAST_SHARE: Final = 0.3
"""An extreme nearer to the baseline than this share of the peak is not examined."""
LEAST_SAMPLES: Final = 4
"""Shortest flat top; noise makes three samples of a round top equal now and then."""
SHARPEST_ROUND_TOP: Final = 6.0
"""A round top has a corner sharpness of 1 to 2; flat tops lie far above."""
AT_FULL_SCALE: Final = 0.995
"""Share of the full scale of the channel from which a flat top has its explanation."""
_REMEDY: Final = (
    "take the channel out of the rating, or repeat the test with a larger range; the peak cannot be restored"
)


def examine_saturation(facts: ChannelStatistics) -> Iterator[Finding]:
    """Look for flat tops at the largest and the smallest value.

    A run of equal samples at an extreme is a flat top when it is longer than chance allows given the noise,
    or when the curve meets it at a corner instead of rounding into it.

    References
    ----------
    .. [1] Criterion derived here.
    """
    samples = facts.signal.samples
    for extreme in (float(samples.max()), float(samples.min())):
        if abs(extreme - facts.baseline) < SATURATION_LEAST_SHARE * abs(facts.peak) or facts.peak == 0:
            continue
        yield from _at(facts, samples, extreme)


def _at(facts: ChannelStatistics, samples: NDArray[np.float64], extreme: float) -> Iterator[Finding]:
    slack = 0.5 * facts.resolution or 1e-9 * abs(facts.peak)
    flat = [run for run in runs_of(np.abs(samples - extreme) <= slack) if run[1] - run[0] >= LEAST_SAMPLES]
    guilty = [run for run in flat if _is_flat_top(facts, samples, run)]
    if not guilty:
        return
    start, stop = guilty[0][0], guilty[-1][1] - 1
    total = int(sum(stop - start for start, stop in guilty))
    where = "largest" if extreme > facts.baseline else "smallest"
    yield Finding(
        kind="saturation",
        severity="error",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"{total} samples are at the {where} value, {extreme:.6g} {facts.signal.unit}, "
        f"in {counted(len(guilty), 'flat top')}",
        remedy=_REMEDY,
        evidence={"level": extreme, "samples": total, "full_scale": facts.full_scale or "not given"},
        start_s=facts.time_s(start),
        end_s=facts.time_s(stop),
    )


def _is_flat_top(facts: ChannelStatistics, samples: NDArray[np.float64], run: tuple[int, int]) -> bool:
    length = run[1] - run[0]
    if length > chance_length(facts):
        return True
    # Noise makes some samples of a round top equal as a count does.
    grain = max(facts.resolution, facts.noise) or 1e-6 * abs(facts.peak)
    sharpness = corner_sharpness(samples, run, grain)
    if facts.full_scale and abs(samples[run[0]]) >= AT_FULL_SCALE * facts.full_scale:
        return True
    # A noisy plateau of the physics meets its corners too, but its samples are not equal.
    return sharpness > SHARPEST_ROUND_TOP


BELOW_NOISE: Final = 0.05
"""Two recordings of one quantity differ by their noise; copies differ by less than this share of it."""


@dataclass(frozen=True, slots=True)
class _Copy:
    factor: float
    rest: float


def examine_copies(
    facts: Sequence[ChannelStatistics], earlier: Sequence[ChannelStatistics]
) -> Iterator[Finding]:
    """Look for channels that equal another, up to a factor, down to their noise."""
    for index, one in enumerate(facts):
        most = _largest_rest(one)
        same_name = [other for other in earlier if other.signal.channel == one.signal.channel]
        for other in (*facts[:index], *same_name):
            copy = _copied(one, other, most)
            if copy:
                yield _copy_finding(one, other, copy)


def _copied(one: ChannelStatistics, other: ChannelStatistics, most: float) -> _Copy | None:
    a, b = one.signal.samples, other.signal.samples
    if a.size != b.size or one.peak == 0 or other.peak == 0:
        return None
    # a few samples rule out nearly all pairs
    probe = slice(0, a.size, max(1, a.size // 64))
    factor = _factor(a[probe], b[probe])
    if _rest(a[probe], b[probe], factor) > most:
        return None
    factor = _factor(a, b)
    rest = _rest(a, b, factor)
    return _Copy(factor, rest) if rest <= most else None


def _largest_rest(facts: ChannelStatistics) -> float:
    # Where the event reaches into the quiet stretch its curve is no noise, the jitter of the samples is.
    jitter = 1.4826 * float(np.median(np.abs(np.diff(facts.signal.samples, 2)))) / math.sqrt(6)
    # Printing seven digits leaves a rest of its own.
    return max(BELOW_NOISE * min(facts.noise, jitter), 3e-7 * abs(facts.peak))


def _factor(a: Floats, b: Floats) -> float:
    deviation_a, deviation_b = a - a.mean(), b - b.mean()
    size = float(deviation_b @ deviation_b)
    return float(deviation_a @ deviation_b) / size if size > 0 else 0.0


def _rest(a: Floats, b: Floats, factor: float) -> float:
    if factor == 0.0:
        return float("inf")
    rest = (a - a.mean()) - factor * (b - b.mean())
    return float(np.sqrt(np.mean(rest**2)))


def _copy_finding(one: ChannelStatistics, other: ChannelStatistics, copy: _Copy) -> Finding:
    same_file = one.file == other.file
    place = f"channel '{other.signal.channel}'" + ("" if same_file else f" of {other.file}")
    times = "" if abs(copy.factor - 1) < 1e-6 else f" times {copy.factor:.5g}"
    alike = parse_unit(one.signal.unit).exponents == parse_unit(other.signal.unit).exponents
    return Finding(
        kind="copy",
        severity="error" if alike else "warning",
        file=one.file,
        channel=one.signal.channel,
        what=f"the channel is {place}{times}, noise included",
        remedy="find out which of the two was measured, and take the other out",
        evidence={"like": f"{other.file}, {other.signal.channel}", "factor": copy.factor, "rest": copy.rest},
        start_s=one.signal.start_s,
        end_s=one.signal.end_s,
    )
