"""Random clean recordings for judging the data check.

Written without the checker: it shares no code with it and knows none of its limits. Shapes are textbook
pulses and decaying modes; the measuring chain is a mount resonance, an analogue low-pass, gain, offset,
white noise and rounding to counts.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from scipy.signal import butter, sosfiltfilt

from correlate import Recording, Signal

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Random = np.random.Generator

MASS_KG = 23.4
CLASSES = {60: 124.65, 180: 373.95, 600: 1246.5, 1000: 2077.5}
"""−6 dB frequency of the double pass, Hz: CFC times 2.0775 (SAE J211-1)."""


@dataclass(frozen=True, kw_only=True)
class Clock:
    """Sample rate and length of a record."""

    rate_hz: float
    before_s: float
    after_s: float

    @property
    def time_s(self) -> Floats:
        """Times of the samples, shape ``(n,)``."""
        count = round((self.before_s + self.after_s) * self.rate_hz)
        return -self.before_s + np.arange(count) / self.rate_hz


@dataclass(frozen=True, kw_only=True)
class Shape:
    """One kind of response; ``duration_s`` scales it in time and ``size`` in the unit."""

    kind: int
    duration_s: float
    size: float
    second: float

    def at(self, time_s: Floats) -> Floats:
        """Return the response, zero before time zero."""
        x = np.clip(time_s / self.duration_s, 0.0, None)
        inside = (x < 1) * 1.0
        pulse = np.sin(np.pi * np.clip(x, 0, 1))
        if self.kind == 0:
            y = pulse**2 - 0.4 * self.second * np.sin(np.pi * np.clip(x - 1, 0, 1)) ** 2
        elif self.kind == 1:
            y = pulse + 0.0 * inside
        elif self.kind == 2:
            y = pulse**2 + (0.3 + 0.5 * self.second) * np.sin(np.pi * np.clip((x - 0.8) / 1.3, 0, 1)) ** 2
        elif self.kind == 3:
            y = np.exp(-(1 + 2 * self.second) * x) * np.sin(2 * np.pi * x) * (1 - np.exp(-20 * x))
        elif self.kind == 4:
            y = np.clip(np.minimum(x, 1 - x) / (0.08 + 0.1 * self.second), 0, 1)
        else:
            y = (4 * x) ** 2 * np.exp(2 - 8 * x)
        return np.asarray(self.size * y, dtype=np.float64)


@dataclass(frozen=True, kw_only=True)
class Channel:
    """A channel of the bench: what it feels and how it is measured."""

    code: str
    unit: str
    shape: Shape
    full_scale: float
    noise: float
    mount_hz: float
    bits: int = 16
    cfc: int | None = None


def random_clock(random: Random) -> Clock:
    """Draw a sample rate and a length."""
    return Clock(
        rate_hz=float(random.choice([10_000.0, 10_000.0, 20_000.0])),
        before_s=random.uniform(0.03, 0.05),
        after_s=random.uniform(0.08, 0.1),
    )


def random_shape(random: Random, size: float) -> Shape:
    """Draw a shape; short ones are as short as a head striking a plate."""
    kind = int(random.integers(0, 6))
    shortest = 0.012 if kind in {3, 4} else 0.004
    return Shape(
        kind=kind,
        duration_s=float(np.exp(random.uniform(np.log(shortest), np.log(0.045)))),
        size=size * float(random.choice([-1.0, 1.0])),
        second=random.uniform(0, 1),
    )


def random_channel(
    random: Random, code: str, unit: str, size: float, *, filtered: bool | None = None
) -> Channel:
    """Draw a channel; one in three has been filtered with a declared class."""
    shape = random_shape(random, size)
    full_scale = size / random.uniform(0.15, 0.8)
    use_filter = random.uniform() < 1 / 3 if filtered is None else filtered
    return Channel(
        code=code,
        unit=unit,
        shape=shape,
        full_scale=full_scale,
        noise=full_scale * float(np.exp(random.uniform(np.log(5e-5), np.log(5e-4)))),
        mount_hz=random.uniform(1800, 4000),
        cfc=int(random.choice([180, 600, 1000])) if use_filter else None,
    )


def measured(channel: Channel, clock: Clock, random: Random, *, shift_s: float = 0.0) -> Floats:
    """Return what a recorder stores for one repeat."""
    repeat = replace(
        channel.shape,
        size=channel.shape.size * random.normal(1, 0.02),
        duration_s=channel.shape.duration_s * random.normal(1, 0.01),
    )
    time_s = clock.time_s
    jitter = float(np.clip(random.normal(0, 2.5e-4), -5e-4, 5e-4))
    analogue = _through_chain(repeat.at(time_s - jitter - shift_s), clock, channel.mount_hz)
    return _recorded(analogue, channel, clock, random)


def _through_chain(values: Floats, clock: Clock, mount_hz: float) -> Floats:
    # a power of two, because other lengths make the transform slow
    size = 1 << (2 * values.size).bit_length()
    padded = np.concatenate((values, np.linspace(values[-1], values[0], size - values.size)))
    frequency = np.fft.rfftfreq(padded.size, 1 / clock.rate_hz)
    ratio = frequency / mount_hz
    mount = 1 / (1 - ratio**2 + 2j * 0.1 * ratio)
    low_pass = 1 / np.sqrt(1 + (frequency / (clock.rate_hz / 5)) ** 8)
    return np.asarray(np.fft.irfft(np.fft.rfft(padded) * mount * low_pass, padded.size)[: values.size])


def _recorded(analogue: Floats, channel: Channel, clock: Clock, random: Random) -> Floats:
    offset = channel.full_scale * float(np.clip(random.normal(0, 1e-3), -2e-3, 2e-3))
    noisy = analogue + offset + channel.noise * random.standard_normal(analogue.size)
    count = channel.full_scale / 2 ** (channel.bits - 1)
    digital = np.rint(noisy / count) * count
    if channel.cfc is None:
        return np.asarray(digital)
    return filtered(digital, channel.cfc, clock.rate_hz)


def filtered(values: Floats, cfc: int, rate_hz: float) -> Floats:
    """Filter forward and backward with the published design frequency."""
    sections = butter(2, CLASSES[cfc], fs=rate_hz, output="sos")
    return np.asarray(sosfiltfilt(sections, values, padtype="odd", padlen=int(0.01 * rate_hz)))


def signal(channel: Channel, clock: Clock, values: Floats) -> Signal:
    """Return samples with their time base and the channel's unit."""
    return Signal(
        samples=values,
        start_s=float(clock.time_s[0]),
        step_s=1 / clock.rate_hz,
        unit=channel.unit,
        channel=channel.code,
    )


def header(channel: Channel) -> dict[str, str]:
    """Return the header lines of a channel."""
    return {
        "Channel amplitude class": f"{channel.full_scale:.6g}",
        "Channel frequency class": "0" if channel.cfc is None else str(channel.cfc),
    }


def recording(
    name: str, signals: list[Signal], headers: dict[str, dict[str, str]], *, load_case: str = "bench"
) -> Recording:
    """Return a test in memory."""
    return Recording(
        signals=tuple(signals),
        path=Path(load_case) / name,
        format="computed",
        details={"Type of the test": load_case, "Mass test object 1": str(MASS_KG)},
        channel_headers=headers,
    )


@dataclass(frozen=True, kw_only=True)
class Bench:
    """A load case: a clock and channels; draws as many repeats as wanted."""

    clock: Clock
    channels: tuple[Channel, ...]

    def repeat(self, name: str, random: Random) -> Recording:
        """Record one repeat of all channels; the probe's force and speed follow from its acceleration."""
        signals = [
            signal(channel, self.clock, measured(channel, self.clock, random)) for channel in self.channels
        ]
        return recording(name, signals, {channel.code: header(channel) for channel in self.channels})


AXES = ("D0HEAD0000KMACXP", "D0HEAD0000KMACYP", "D0HEAD0000KMACZP")
PROBE = "00PEND000000ACXP"
FORCE = "00PEND000000FOXP"
SPEED = "00PEND000000VEXP"


def one_channel_bench(random: Random, *, filtered: bool | None = None) -> Bench:
    """Return a bench with one channel."""
    size = float(np.exp(random.uniform(np.log(50), np.log(3000))))
    return Bench(
        clock=random_clock(random),
        channels=(random_channel(random, AXES[0], "m/s^2", size, filtered=filtered),),
    )


def three_axis_bench(random: Random) -> Bench:
    """Return a bench with one sensor of three axes whose sizes differ."""
    size = float(np.exp(random.uniform(np.log(100), np.log(3000))))
    shares = random.permutation([1.0, random.uniform(0.3, 0.6), random.uniform(0.05, 0.2)])
    channels = tuple(
        random_channel(random, code, "m/s^2", size * float(share))
        for code, share in zip(AXES, shares, strict=True)
    )
    return Bench(clock=random_clock(random), channels=channels)


def probe_test(name: str, random: Random, *, force_gain: float = 1.0, speed_gain: float = 1.0) -> Recording:
    """Record a probe whose force, acceleration and speed are measured each by its own chain."""
    clock = random_clock(random)
    size = float(np.exp(random.uniform(np.log(100), np.log(1500))))
    shape = replace(random_shape(random, size), kind=int(random.choice([0, 1, 2, 5])))
    acceleration = shape.at(clock.time_s - random.uniform(-5e-4, 5e-4))
    sums = np.concatenate(([0.0], np.cumsum((acceleration[1:] + acceleration[:-1]) / (2 * clock.rate_hz))))
    felt = {
        PROBE: ("m/s^2", acceleration),
        FORCE: ("N", MASS_KG * acceleration * force_gain),
        SPEED: ("m/s", sums * speed_gain),
    }
    signals, headers = [], {}
    for code, (unit, values) in felt.items():
        full_scale = float(np.abs(values).max()) / random.uniform(0.3, 0.8)
        channel = Channel(
            code=code, unit=unit, shape=shape, full_scale=full_scale, noise=2e-4 * full_scale, mount_hz=3500
        )
        gained = values * random.normal(1, 0.01)
        signals.append(
            signal(channel, clock, _recorded(_through_chain(gained, clock, 3500), channel, clock, random))
        )
        headers[code] = header(channel)
    return recording(name, signals, headers)
