"""Single faults to plant in clean recordings. Written without the checker; it knows none of its limits."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from correlate import Signal
from correlate.conditioning import signal_on_constant_step
from correlate.signal import Source

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    from correlate import Recording

    Floats = NDArray[np.float64]
    Random = np.random.Generator

FACTORS = (9.80665, 1000.0, 57.29577951, 4.44822162, 25.4)
"""Between units that are mistaken for each other."""


def changed(test: Recording, code: str, change: Callable[[Signal], Signal]) -> Recording:
    """Return the test with one channel changed."""
    signals = tuple(change(item) if item.channel == code else item for item in test.signals)
    return replace(test, signals=signals)


def with_samples(item: Signal, samples: Floats) -> Signal:
    """Return the signal with other samples and nothing in its history."""
    return Signal(
        samples=samples, start_s=item.start_s, step_s=item.step_s, unit=item.unit, channel=item.channel
    )


def size_of(item: Signal) -> float:
    """Return the largest deviation from the median."""
    return float(np.abs(item.samples - np.median(item.samples)).max())


def saturate(item: Signal, random: Random) -> Signal:
    """Clip the main peak so that at least five samples are lost."""
    samples = item.samples - np.median(item.samples)
    sign = 1.0 if abs(samples.max()) >= abs(samples.min()) else -1.0
    ordered = np.sort(sign * samples)[::-1]
    level = min(random.uniform(0.6, 0.92) * ordered[0], ordered[5])
    return with_samples(item, sign * np.minimum(sign * samples, level) + np.median(item.samples))


def add_spikes(item: Signal, random: Random) -> Signal:
    """Add one to three spikes of one to three samples, a tenth of the peak or more, some swinging back."""
    samples = item.samples.copy()
    for _ in range(int(random.integers(1, 4))):
        start = int(random.integers(10, samples.size - 10))
        width = int(random.integers(1, 4))
        height = size_of(item) * random.uniform(0.1, 0.8) * float(random.choice([-1, 1]))
        if random.uniform() < 0.3:
            samples[start : start + 2] += height * np.array([1.0, -random.uniform(0.2, 1.0)])
        else:
            samples[start : start + width] += height
    return with_samples(item, samples)


def drop_out(item: Signal, random: Random) -> Signal:
    """Lose the channel for 10 to 60 samples of the event: at zero, at the baseline or held.

    A value held over the peak would be the largest of the record and could not be told from saturation; such
    a stretch is put to zero instead.
    """
    samples = item.samples.copy()
    level = np.median(samples)
    loud = np.flatnonzero(np.abs(samples - level) > 0.3 * size_of(item))
    start = int(random.choice(loud))
    stop = min(start + int(random.integers(10, 61)), samples.size - 5)
    way = int(random.integers(0, 3))
    left = np.concatenate((samples[:start], samples[stop:]))
    if not left.min() < samples[start] < left.max():
        way = 0
    if way == 0:
        samples[start:stop] = 0.0
    elif way == 1:
        quiet = samples[: stop - start]
        samples[start:stop] = quiet
    else:
        samples[start:stop] = samples[start]
    return with_samples(item, samples)


def lose_samples(item: Signal, random: Random) -> Signal:
    """Leave out samples, or let the clock wander, and read the rest as a file with printed times would be."""
    time = item.time_s
    if random.uniform() < 0.5:
        kept = np.sort(random.permutation(time.size)[: int(time.size * random.uniform(0.9, 0.999))])
    else:
        kept = np.arange(time.size)
        time = time + 0.3 * item.step_s * np.cumsum(random.normal(0, 0.3, time.size).clip(-1, 1))
        time = np.maximum.accumulate(time + 1e-9 * np.arange(time.size))
    return signal_on_constant_step(
        time[kept], item.samples[kept], unit=item.unit, channel=item.channel, source=Source("computed")
    )


def wrong_rate(item: Signal, random: Random) -> Signal:
    """State another sampling interval."""
    factor = float(random.choice([0.25, 0.5, 0.8, 1.25, 1.6, 2.0, 4.0]))
    return Signal(
        samples=item.samples,
        start_s=item.start_s,
        step_s=item.step_s * factor,
        unit=item.unit,
        channel=item.channel,
    )


def late_or_early(item: Signal, random: Random) -> Signal:
    """Move the time axis by 2.5 to 15 ms."""
    shift_s = random.uniform(0.0025, 0.015) * float(random.choice([-1, 1]))
    return Signal(
        samples=item.samples,
        start_s=item.start_s + shift_s,
        step_s=item.step_s,
        unit=item.unit,
        channel=item.channel,
    )


def cut_start(item: Signal, random: Random) -> Signal:
    """Start the record from 2 ms before to 2 ms after time zero."""
    first = int(np.searchsorted(item.time_s, random.uniform(-0.002, 0.002)))
    return Signal(
        samples=item.samples[first:],
        start_s=float(item.time_s[first]),
        step_s=item.step_s,
        unit=item.unit,
        channel=item.channel,
    )


def add_offset(item: Signal, random: Random) -> Signal:
    """Add 8 to 40 % of the peak."""
    share = random.uniform(0.08, 0.4) * float(random.choice([-1, 1]))
    return with_samples(item, item.samples + share * size_of(item))


def add_drift(item: Signal, random: Random) -> Signal:
    """Add a line that grows to 6 to 30 % of the peak over the record."""
    share = random.uniform(0.06, 0.3) * float(random.choice([-1, 1]))
    line = np.linspace(0, 1, len(item)) * share * size_of(item)
    return with_samples(item, item.samples + line)


def add_noise(item: Signal, random: Random) -> Signal:
    """Add white noise of 5 to 15 % of the peak."""
    spread = random.uniform(0.05, 0.15) * size_of(item)
    return with_samples(item, item.samples + spread * random.standard_normal(len(item)))


def coarsen(item: Signal, random: Random) -> Signal:
    """Round to 15 to 70 counts from baseline to peak."""
    count = size_of(item) / random.uniform(15, 70)
    return with_samples(item, np.rint(item.samples / count) * count)


def multiply(item: Signal, factor: float) -> Signal:
    """Multiply the samples and leave the unit."""
    return with_samples(item, item.samples * factor)


def wrong_unit(item: Signal, random: Random) -> Signal:
    """Multiply or divide by a factor between units."""
    factor = float(random.choice(FACTORS))
    return multiply(item, factor if random.uniform() < 0.5 else 1 / factor)
