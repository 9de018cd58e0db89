"""Dropouts: stretches in which the channel was lost, held at a value or fallen to the baseline."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.reference.check.runs import chance_length, corner_sharpness, runs_of
from correlate.reference.finding import Finding, RepairProposal, counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from correlate.reference.check.facts import ChannelFacts

    Floats = NDArray[np.float64]

LEAST_JUMP: Final = 0.05
"""Smallest jump into or out of a dropout, as a share of the peak."""
JUMP_NOISES: Final = 10.0
"""Smallest jump, in standard deviations of the noise."""
OVER_SURROUNDINGS: Final = 3.0
"""A jump is larger than the steps around it by this factor."""
SURROUNDINGS: Final = 12
"""Samples on either side of a jump."""
BESIDE: Final = 9
"""Samples before and after a stretch at rest that tell a dropout from the rest between two spikes."""
LONGEST_SHARE: Final = 0.4
"""Longest dropout, as a share of the record."""
CORNER: Final = 6.0
"""Sharpness of the corners that tell a held value from a slow stretch."""


def examine_dropouts(facts: ChannelFacts) -> Iterator[Finding]:
    """Look for runs of equal samples and for stretches at the baseline between two jumps.

    Parameters
    ----------
    facts
        Of the channel.

    Yields
    ------
    Finding
        ``dropout``, an error. Proposes to bridge it.

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
        yield _finding(facts, merged)


def _held(facts: ChannelFacts) -> list[tuple[int, int]]:
    """Return runs of equal samples that neither noise nor a slow curve explains."""
    samples = facts.signal.samples
    equal = np.concatenate((np.diff(samples) == 0, [False]))
    longest = chance_length(facts)
    extremes = {float(samples.max()), float(samples.min())}
    runs = []
    for start, last in runs_of(equal):
        run = (start, last + 1)
        level = float(samples[start])
        at_extreme = level in extremes and abs(level - facts.baseline) > 3 * facts.grain
        if at_extreme or run[1] - run[0] < 4:
            continue
        if run[1] - run[0] > longest or _has_jump_and_corner(facts, run):
            runs.append(run)
    return runs


def _has_jump_and_corner(facts: ChannelFacts, run: tuple[int, int]) -> bool:
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


def _fallen(facts: ChannelFacts) -> list[tuple[int, int]]:
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


def _jumps(facts: ChannelFacts) -> set[int]:
    """Return the indices after which the signal jumps."""
    step = np.abs(np.diff(facts.signal.samples))
    least = max(LEAST_JUMP * abs(facts.peak), JUMP_NOISES * facts.noise, 4 * facts.resolution)
    found = set()
    for index in np.flatnonzero(step > least).tolist():
        before = step[max(0, index - SURROUNDINGS) : max(0, index - 1)]
        after = step[index + 2 : index + 2 + SURROUNDINGS]
        around = np.concatenate((before, after))
        if around.size and step[index] > OVER_SURROUNDINGS * float(np.percentile(around, 80)):
            found.add(index)
    return found


def _dead(facts: ChannelFacts) -> Finding:
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


def _finding(facts: ChannelFacts, runs: list[tuple[int, int]]) -> Finding:
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
