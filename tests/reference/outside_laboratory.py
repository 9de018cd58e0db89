"""How the laboratories outside measure: sensors of three axes, filters, recorders, and the words of a test.

The small axes come from what makes them in practice: a sensor turned by a degree or two, an impact beside
the centre, its sensitivity across the axis, and a vibration of its own. They differ from repeat to repeat in
size, shape and sign.
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final
from zlib import crc32

import numpy as np
from scipy.signal import butter, sosfilt, sosfilt_zi

from correlate import Recording, Signal
from tests.reference.bench import filtered
from tests.reference.outside_physics import PHYSICS, Draw, mode

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    from tests.reference.outside_physics import Felt

    Floats = NDArray[np.float64]
    Physics = Callable[[Draw, Floats, float], list[Felt]]

LETTERS: Final = {1000: "A", 600: "B", 180: "C", 60: "D"}
MINOR: Final = 0.1
"""An axis whose largest value stays below this share of the sensor's is a minor one."""


@dataclass(frozen=True, kw_only=True)
class LoadCase:
    """Repeats of one test, and which of their channels carry the event."""

    name: str
    tests: tuple[Recording, ...]
    main: tuple[str, ...]
    minor: tuple[str, ...]


@dataclass(frozen=True, kw_only=True)
class Recorder:
    """Rate, length and filter of all channels of a load case."""

    rate_hz: float
    before_s: float
    after_s: float
    bits: int
    is_filtered: bool

    @property
    def time_s(self) -> Floats:
        """Times of the samples, shape ``(n,)``."""
        return -self.before_s + np.arange(round((self.before_s + self.after_s) * self.rate_hz)) / self.rate_hz


def load_case(name: str, seed: int) -> LoadCase:
    """Return three to six honest repeats of a load case."""
    random = np.random.default_rng([seed, crc32(name.encode())])
    physics, after_s = PHYSICS[name]
    recorder = Recorder(
        rate_hz=float(random.choice([10_000.0, 20_000.0])),
        before_s=random.uniform(0.02, 0.05),
        after_s=after_s * random.uniform(1, 1.3),
        bits=int(random.choice([12, 14, 16, 16])),
        is_filtered=bool(random.uniform() < 0.6),
    )
    design_seed = int(random.integers(2**31))
    ranges: dict[str, float] = {}
    shares: dict[str, float] = {}
    tests = [
        _Repeat(
            name,
            number,
            Draw(seed=design_seed, repeat=np.random.default_rng([design_seed, number])),
            recorder,
        ).measured(physics, ranges, shares)
        for number in range(1, int(random.integers(3, 7)) + 1)
    ]
    return LoadCase(
        name=name,
        tests=tuple(tests),
        main=tuple(code for code, share in shares.items() if share >= MINOR),
        minor=tuple(code for code, share in shares.items() if share < MINOR),
    )


def load_cases(seeds: range) -> Iterator[LoadCase]:
    """Return every load case once a seed."""
    for seed in seeds:
        for name in PHYSICS:
            yield load_case(name, seed)


@dataclass(frozen=True)
class _Repeat:
    """One test of a load case."""

    load_case: str
    number: int
    draw: Draw
    recorder: Recorder

    def measured(self, physics: Physics, ranges: dict[str, float], shares: dict[str, float]) -> Recording:
        """Run and record it; note the range of every sensor, and the share of every channel in its sensor."""
        time_s, step_s = self.recorder.time_s, 1 / self.recorder.rate_hz
        jitter_s = float(np.clip(self.draw.repeat.normal(0, 2e-4), -5e-4, 5e-4))
        signals, headers = [], {}
        for felt in physics(self.draw, time_s - jitter_s, step_s):
            axes = dict(felt.axes) if felt.alone else _all_axes(felt, self.draw, step_s)
            largest = max(float(np.abs(values).max()) for values in axes.values())
            place = felt.place + felt.dimension
            full_scale = ranges.setdefault(
                place, float(f"{largest / self.draw.own(place).uniform(0.15, 0.6):.1g}") * 1.25
            )
            chain = _Chain(full_scale, felt.cfc, self.recorder, self.draw)
            for axis, values in axes.items():
                code = self._code(felt, axis)
                signals.append(self._signal(felt, code, chain.recorded(values, code)))
                headers[code] = {
                    "Channel amplitude class": f"{full_scale:.6g}",
                    "Channel frequency class": str(felt.cfc) if self.recorder.is_filtered else "0",
                }
                shares[code] = max(shares.get(code, 0.0), float(np.abs(values).max()) / largest)
        return Recording(
            signals=tuple(signals),
            path=Path(f"outside {self.draw.seed}") / self.load_case / f"{self.load_case} {self.number}",
            format="computed",
            details={"Type of the test": self.load_case} | self.draw.details,
            channel_headers=headers,
        )

    def _code(self, felt: Felt, axis: str) -> str:
        letter = LETTERS[felt.cfc] if self.recorder.is_filtered else "0"
        body = "00" if felt.place.startswith(("PEND", "SLED", "SEAT")) else "D0"
        return f"{body}{felt.place}00{felt.dimension}{axis}{letter}"

    def _signal(self, felt: Felt, code: str, samples: Floats) -> Signal:
        return Signal(
            samples=samples,
            start_s=float(self.recorder.time_s[0]),
            step_s=1 / self.recorder.rate_hz,
            unit=felt.unit,
            channel=code,
        )


def _all_axes(felt: Felt, draw: Draw, step_s: float) -> dict[str, Floats]:
    """Return three axes: those that carry the event, turned a little, and what the others show of it."""
    key = felt.place + felt.dimension
    strongest = max(felt.axes.values(), key=lambda values: float(np.abs(values).max()))
    largest = float(np.abs(strongest).max())
    result = {}
    for axis in "XYZ":
        across = draw.own(key + axis + "across").uniform(-0.03, 0.03)
        turned = 0.02 * draw.repeat.normal()
        if axis in felt.axes:
            others = [values for other, values in felt.axes.items() if other != axis]
            result[axis] = felt.axes[axis] + sum((across + turned) * values for values in others)
            continue
        own = mode(
            strongest,
            step_s,
            float(np.exp(draw.own(key + axis + "mode").uniform(np.log(15), np.log(250)))) * draw.scatter(),
            draw.own(key + axis + "damping").uniform(0.02, 0.2),
        )
        own *= largest / max(float(np.abs(own).max()), 1e-12)
        beside = float(
            np.clip(
                draw.own(key + axis + "beside").normal(0, 0.03) + draw.repeat.normal(0, 0.03), -0.06, 0.06
            )
        )
        result[axis] = (across + turned) * strongest + beside * own
        # A misalignment, a sensitivity and a mode seldom add up to more than this.
        result[axis] *= min(1.0, 0.095 * largest / max(float(np.abs(result[axis]).max()), 1e-12))
    return result


@dataclass(frozen=True)
class _Chain:
    """What happens to one channel between the sensor and the file."""

    full_scale: float
    cfc: int
    recorder: Recorder
    draw: Draw

    def recorded(self, felt: Floats, code: str) -> Floats:
        """Return the samples of the file."""
        own, repeat, rate_hz = self.draw.own(code), self.draw.repeat, self.recorder.rate_hz
        sections = butter(4, rate_hz / 5, fs=rate_hz, output="sos")
        analogue, _ = sosfilt(sections, felt, zi=sosfilt_zi(sections) * felt[0])
        gain = 1 + 0.01 * float(np.clip(repeat.normal(), -2, 2))
        offset = self.full_scale * 5e-4 * float(np.clip(repeat.normal(), -3, 3))
        warm = self.full_scale * 5e-5 * repeat.normal() * np.linspace(0, 1, felt.size)
        count = self.full_scale / 2 ** (self.recorder.bits - 1)
        # A recorder has noise of its own, from half a count on.
        noise = count * float(np.exp(own.uniform(np.log(0.5), np.log(3))))
        values = gain * analogue + offset + warm + noise * repeat.standard_normal(felt.size)
        values = np.rint(values / count) * count
        if self.recorder.is_filtered:
            values = filtered(values, self.cfc, rate_hz)
        return np.array([float(f"{value:.7g}") for value in values.tolist()])
