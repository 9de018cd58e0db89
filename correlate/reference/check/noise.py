"""Noise floor, resolution and range."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.reference.check.consensus import middle
from correlate.reference.finding import Finding

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from correlate.reference.check.facts import ChannelFacts

NOISY_SHARE: Final = 0.03
"""Noise worth a warning, as a share of the peak …"""
NOISY_SCALE: Final = 5e-4
"""… when it is more than this share of the full scale too: a channel that hardly moved is not a noisy one."""
NOISIER: Final = 4.0
"""Noise worth a warning, as a multiple of that of the other repeats."""
FEWEST_COUNTS: Final = 100
"""Fewest counts from baseline to peak (a resolution of 1 %)."""
OVER_RANGE: Final = 1.02
"""Values over the full scale by this factor contradict it."""


def effective_bits(facts: ChannelFacts) -> float | None:
    r"""Return the bits of the channel that are not noise.

    .. math:: b = \log_2 \frac{2 A}{\sigma \sqrt{12}}

    Parameters
    ----------
    facts
        Of the channel: full scale :math:`A`, or the peak where it is not given; noise :math:`\sigma`, at
        least that of rounding to counts.

    Returns
    -------
    float or None
        None where neither noise nor count size is known.

    References
    ----------
    .. [1] Noise of rounding: a count over the root of 12 (Bennett, "Spectra of quantized signals", Bell
       System Technical Journal 27 (1948)); effective bits as in IEEE 1057, from memory.
    """
    spread = max(facts.noise, facts.resolution / math.sqrt(12))
    scale = facts.full_scale or abs(facts.peak)
    return math.log2(2 * scale / (spread * math.sqrt(12))) if spread > 0 and scale > 0 else None


def examine_noise(facts: ChannelFacts, others: Sequence[ChannelFacts]) -> Iterator[Finding]:
    """Compare the noise before the event with the peak and with the other repeats.

    Parameters
    ----------
    facts
        Of the channel.
    others
        The same channel in other repeats.

    Yields
    ------
    Finding
        ``noise``, a warning.

    References
    ----------
    .. [1] Limits: chosen here.
    """
    if not facts.has_quiet or facts.peak == 0:
        return
    share = facts.noise / abs(facts.peak)
    # As shares of the peaks, so that a wrong unit is not noise too.
    usual = [
        other.noise / abs(other.peak) for other in others if other.has_quiet and other.noise * other.peak
    ]
    times = share / middle(usual, favoured=share) if len(usual) > 1 else 0.0
    alone = share > NOISY_SHARE and (not facts.full_scale or facts.noise > NOISY_SCALE * facts.full_scale)
    if not alone and not (times > NOISIER and facts.noise > 2 * facts.resolution):
        return
    words = f", {times:.1f} times that of the other repeats" if times > NOISIER else ""
    bits = effective_bits(facts)
    yield Finding(
        kind="noise",
        severity="warning",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the noise before the event is {facts.noise:.3g} {facts.signal.unit}, {share:.1%} of the peak"
        f"{words}",
        remedy="check shielding and ground; filter with the class of the channel before rating",
        evidence={
            "noise": facts.noise,
            "share_of_peak": round(share, 4),
            "effective_bits": "unknown" if bits is None else round(bits, 1),
        },
        start_s=facts.time_s(facts.quiet.start),
        end_s=facts.time_s(facts.quiet.stop - 1),
    )


def examine_resolution(facts: ChannelFacts) -> Iterator[Finding]:
    """Count the steps between baseline and peak.

    Parameters
    ----------
    facts
        Of the channel.

    Yields
    ------
    Finding
        ``resolution``, a warning.
    """
    if facts.resolution == 0 or facts.peak == 0:
        return
    counts = abs(facts.peak) / facts.resolution
    hardly_moved = facts.full_scale > 0 and facts.resolution < 1e-4 * facts.full_scale
    if counts >= FEWEST_COUNTS or hardly_moved:
        return
    yield Finding(
        kind="resolution",
        severity="warning",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"from baseline to peak there are only {counts:.0f} counts of {facts.resolution:.4g} "
        f"{facts.signal.unit}",
        remedy="choose a smaller range, or export more digits",
        evidence={"counts": round(counts, 1), "count_size": facts.resolution},
    )


def examine_range(facts: ChannelFacts) -> Iterator[Finding]:
    """Compare the largest value with the full scale of the header.

    Parameters
    ----------
    facts
        Of the channel.

    Yields
    ------
    Finding
        ``range``, an error.
    """
    largest = float(np.abs(facts.calm).max())
    if not facts.full_scale or largest <= OVER_RANGE * facts.full_scale:
        return
    yield Finding(
        kind="range",
        severity="error",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the largest value, {largest:.5g} {facts.signal.unit}, is beyond the full scale, "
        f"{facts.full_scale:.5g}",
        remedy="correct the unit or the amplitude class in the header",
        evidence={"largest": largest, "full_scale": facts.full_scale},
        start_s=facts.peak_s,
        end_s=facts.peak_s,
    )
