"""Saturation: flat tops at an extreme, where the recorder or its amplifier could not follow."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.reference.check.runs import chance_length, corner_sharpness, runs_of
from correlate.reference.finding import Finding, counted

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from correlate.reference.check.facts import ChannelFacts

LEAST_SHARE: Final = 0.3
"""An extreme nearer to the baseline than this share of the peak is not examined."""
LEAST_SAMPLES: Final = 3
"""Shortest flat top."""
SHARPEST_ROUND_TOP: Final = 6.0
"""A round top has a corner sharpness of 1 to 2; flat tops lie far above."""
AT_FULL_SCALE: Final = 0.995
"""Share of the full scale of the channel from which a flat top has its explanation."""
_REMEDY: Final = (
    "take the channel out of the rating, or repeat the test with a larger range; the peak cannot be restored"
)


def examine_saturation(facts: ChannelFacts) -> Iterator[Finding]:
    """Look for flat tops at the largest and the smallest value.

    A run of equal samples at an extreme is a flat top when it is longer than chance allows given the noise,
    or when the curve meets it at a corner instead of rounding into it.

    Parameters
    ----------
    facts
        Of the channel.

    Yields
    ------
    Finding
        ``saturation``, an error; a note when the top is flat but as noisy as the rest and below full scale.

    References
    ----------
    .. [1] Criterion derived here.
    """
    samples = facts.signal.samples
    for extreme in (float(samples.max()), float(samples.min())):
        if abs(extreme - facts.baseline) < LEAST_SHARE * abs(facts.peak) or facts.peak == 0:
            continue
        yield from _at(facts, samples, extreme)


def _at(facts: ChannelFacts, samples: NDArray[np.float64], extreme: float) -> Iterator[Finding]:
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


def _is_flat_top(facts: ChannelFacts, samples: NDArray[np.float64], run: tuple[int, int]) -> bool:
    length = run[1] - run[0]
    if length > chance_length(facts):
        return True
    sharpness = corner_sharpness(samples, run, facts.resolution or 1e-6 * abs(facts.peak))
    if facts.full_scale and abs(samples[run[0]]) >= AT_FULL_SCALE * facts.full_scale:
        return True
    # A noisy plateau of the physics meets its corners too, but its samples are not equal.
    return sharpness > SHARPEST_ROUND_TOP
