"""Spikes: one to three samples that leave the curve and come back."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.reference.check.runs import runs_of
from correlate.reference.check.smoothing import running_median
from correlate.reference.finding import Finding, RepairProposal, counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from correlate.reference.check.facts import ChannelFacts

    Floats = NDArray[np.float64]

WIDTH: Final = 7
"""Window of the running median, samples: it ignores up to three outliers."""
WIDEST: Final = 3
"""Most samples of a spike."""
LEAST_SHARE: Final = 0.02
"""Smallest spike, as a share of the peak."""
LARGE_SHARE: Final = 0.05
"""A spike of this share of the peak is worth a warning …"""
GRAVE_SHARE: Final = 0.1
"""… and of this share an error; a smaller one may be the first ring of a mount."""
LEAST_NOISES: Final = 10.0
"""Smallest spike, in standard deviations of the noise."""
OVER_SURROUNDINGS: Final = 4.0
"""A spike stands out from the residual around it by this factor."""
SURROUNDINGS: Final = 25
"""Samples on either side that count as its surroundings."""
SUDDEN: Final = 0.6
"""Share of its height that the first sample of a spike gains at once, and the last loses."""


def examine_spikes(facts: ChannelFacts) -> Iterator[Finding]:
    """Look for samples that stand out from a running median and from their surroundings.

    Parameters
    ----------
    facts
        Of the channel.

    Yields
    ------
    Finding
        ``spike``, an error when it is more than a tenth of the peak, a warning from a twentieth, else a
        note. Proposes to bridge it.

    References
    ----------
    .. [1] Criterion derived here; running medians after Tukey (1977).
    """
    samples = facts.signal.samples
    rest = samples - running_median(samples, WIDTH)
    size = np.abs(rest)
    least = max(LEAST_SHARE * abs(facts.peak), LEAST_NOISES * facts.noise, 3 * facts.resolution)
    if facts.peak == 0 or least == 0:
        return
    found = [run for run in runs_of(size > least) if _is_spike(samples, size, run)]
    if found:
        yield _finding(facts, size, found)


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
    sides = (size[max(0, start - SURROUNDINGS) : start - 1], size[stop + 1 : stop + SURROUNDINGS])
    busy = max((float(np.percentile(side, 90)) for side in sides if side.size), default=0.0)
    return bool(height > OVER_SURROUNDINGS * busy)


def _finding(facts: ChannelFacts, size: Floats, found: list[tuple[int, int]]) -> Finding:
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
