"""Faults of frequency: filter class and noise."""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.channel import ChannelCode, is_channel_code
from correlate.conditioning import FREQUENCY_CLASSES, cfc_amplitude
from correlate.reference.check.repeats import middle
from correlate.reference.finding import Finding

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

    from numpy.typing import NDArray

    from correlate.reference.check.statistics import ChannelStatistics

    Floats = NDArray[np.float64]


LEAST_SAMPLES: Final = 128
"""Fewest quiet samples that a spectrum is judged on."""
CERTAIN: Final = 15.0
"""Difference in log-likelihood from which another class is called the better explanation."""
GOLDEN_STEPS: Final = 24
"""Steps of the search for the noise level: they shrink 25 powers of e to a hundredth of a per cent."""
EVENT_REACH_S: Final = 0.006
"""A filter without phase shift spreads the event backwards by about so much, s; longer below class …"""
REACH_CLASS: Final = 180
"""… this one, in proportion."""
DEEPEST: Final = 1e-7
"""Power below this share of the largest may be rounding to printed digits as well as noise."""
_LETTERS: Final = {"A": 1000, "B": 600, "C": 180, "D": 60}


def declared_class(facts: ChannelStatistics) -> int | None:
    """Return the channel frequency class that the header or else the code declares."""
    text = facts.header.get("Channel frequency class", "").strip()
    if text.isdecimal():
        return int(text) if int(text) in FREQUENCY_CLASSES else None
    if text in _LETTERS:
        return _LETTERS[text]
    if is_channel_code(facts.signal.channel):
        return _LETTERS.get(ChannelCode(facts.signal.channel).filter_letter)
    return None


def examine_frequency_class(facts: ChannelStatistics) -> Iterator[Finding]:
    r"""Judge the spectrum of the quiet stretch by the likelihood of every class.

    The noise in front of the filter is taken as white, that of rounding to counts is added:
    :math:`S(f) = S_0 |H(f)|^2 + \Delta^2/12`. Periodogram values are exponentially distributed about it
    (Whittle's likelihood).

    References
    ----------
    .. [1] Whittle, "Estimation and information in stationary time series", Arkiv för Matematik 2 (1953).
    """
    declared = declared_class(facts)
    interpolated = any(step.name == "resample unevenly sampled" for step in facts.signal.history)
    if declared is None:
        return
    reach_s = EVENT_REACH_S * max(1.0, REACH_CLASS / declared)
    stop = facts.quiet.stop - round(reach_s / facts.signal.step_s)
    if stop < LEAST_SAMPLES or facts.noise <= 0.4 * facts.resolution or interpolated:
        return
    # A spike would fill the whole spectrum.
    near = facts.calm[:stop] + np.clip(
        facts.signal.samples[:stop] - facts.calm[:stop], -5 * facts.noise, 5 * facts.noise
    )
    power = _periodogram(near)
    scores: dict[int | None, float] = {None: _log_likelihood(power, np.ones_like(power), facts)}
    for cfc, row in FREQUENCY_CLASSES.items():
        if facts.signal.sample_rate_hz >= row.lowest_rate_hz * (1 - 1e-6):
            gain = _expected_power(near.size, cfc, facts.signal.step_s)
            scores[cfc] = _log_likelihood(power, gain, facts)
    if declared not in scores:
        return
    best = max(scores, key=lambda cfc: scores[cfc])
    gap = scores[best] - scores[declared]
    if best == declared or gap < CERTAIN:
        return
    yield _finding(facts, declared, best, gap)


def _finding(facts: ChannelStatistics, declared: int, best: int | None, gap: float) -> Finding:
    found = "no filter" if best is None else f"CFC {best}"
    return Finding(
        kind="filter class",
        severity="warning",
        file=facts.file,
        channel=facts.signal.channel,
        what=f"the header declares CFC {declared}, the spectrum of the noise looks like {found}",
        remedy="correct the header, or filter the raw channel with the declared class",
        evidence={"declared": declared, "looks_like": found, "log_likelihood_gain": round(gap, 1)},
        start_s=facts.time_s(facts.quiet.start),
        end_s=facts.time_s(facts.quiet.stop - 1),
    )


def _periodogram(window: Floats) -> Floats:
    """Return the power per bin, line removed, the two ends of the spectrum left out."""
    index = np.arange(window.size) - (window.size - 1) / 2
    rest = window - window.mean() - index * float(index @ window / (index @ index))
    # A taper keeps the strong low frequencies out of a deep stop band.
    taper = _taper(rest.size)
    power = np.abs(np.fft.rfft(rest * taper)) ** 2 / float(taper @ taper)
    return np.asarray(power[2:-1])


def _taper(size: int) -> Floats:
    return np.hanning(size + 2)[1:-1]


@lru_cache(maxsize=64)
def _expected_power(size: int, cfc: int, step_s: float) -> Floats:
    r"""Return the power per bin that filtered white noise is expected to show in a short window.

    A window of a few periods of the edge of the filter shows more in the stop band than the filter lets
    through: :math:`E\,P(f) = \sum_\tau r(\tau)\, w(\tau)\, e^{-2\pi i f \tau}`, with the
    autocorrelation :math:`r` of the noise and :math:`w` of the taper.

    References
    ----------
    .. [1] Expected periodogram: Priestley, "Spectral analysis and time series" (1981), from memory.
    """
    fine = 1 << (4 * size).bit_length()
    gain = cfc_amplitude(np.fft.rfftfreq(fine, step_s), cfc, step_s) ** 2
    taper = _taper(size)
    window = np.fft.irfft(np.abs(np.fft.rfft(taper, fine)) ** 2, fine) / float(taper @ taper)
    products = (np.fft.irfft(gain, fine) * window)[:size]
    # At the frequencies of the window a lag and the same lag less its length count alike.
    lags = np.concatenate((products[:1], products[1:] + products[:0:-1]))
    return np.asarray(np.fft.rfft(lags).real[2:-1])


def _log_likelihood(power: Floats, gain: Floats, facts: ChannelStatistics) -> float:
    """Return the Whittle likelihood at the best level of the white noise, found by golden section."""
    rounding = facts.resolution**2 / 12 + DEEPEST * float(power.max())
    # A taper of this kind ties neighbouring bins together; two bins count about as one and a half.
    weight = 2 / 3

    def value(log_level: float) -> float:
        level = math.exp(log_level) * gain + rounding
        return -weight * float((np.log(level) + power / level).sum())

    low, high = math.log(float(power.max()) * 1e-8 + 1e-300), math.log(float(power.max()) * 1e3)
    ratio = (math.sqrt(5) - 1) / 2
    inner, outer = high - ratio * (high - low), low + ratio * (high - low)
    for _ in range(GOLDEN_STEPS):
        if value(inner) > value(outer):
            high, outer = outer, inner
            inner = high - ratio * (high - low)
        else:
            low, inner = inner, outer
            outer = low + ratio * (high - low)
    return value((low + high) / 2)


NOISY_SHARE: Final = 0.03
"""Noise worth a warning, as a share of the peak …"""
NOISY_SCALE: Final = 5e-4
"""… when it is more than this share of the full scale too: a channel that hardly moved is not a noisy one."""
NOISIER: Final = 4.0
"""Noise that gives a warning, as a multiple of that of the other repeats …"""
AUDIBLE: Final = 0.002
"""… when it is more than this share of the peak too."""
FEWEST_COUNTS: Final = 100
"""Fewest counts from baseline to peak (a resolution of 1 %)."""
OVER_RANGE: Final = 1.02
"""Values over the full scale by this factor contradict it."""


def effective_bits(facts: ChannelStatistics) -> float | None:
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


def examine_noise(facts: ChannelStatistics, others: Sequence[ChannelStatistics]) -> Iterator[Finding]:
    """Compare the noise before the event with the peak and with the other repeats.

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
    noisier = times > NOISIER and facts.noise > 2 * facts.resolution and share > AUDIBLE
    if not alone and not noisier:
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


def examine_resolution(facts: ChannelStatistics) -> Iterator[Finding]:
    """Count the steps between baseline and peak."""
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


def examine_range(facts: ChannelStatistics) -> Iterator[Finding]:
    """Compare the largest value with the full scale of the header."""
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
