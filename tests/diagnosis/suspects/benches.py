"""Random sensors, tests and models for judging the search for suspects.

Written without the search: it shares no code with it and knows none of its limits. Responses are textbook
pulses (haversines, decaying oscillations, several peaks); a moderate model errs a little in everything, a
poor one much in something; noise is white.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from correlate import Recipe, Signal

if TYPE_CHECKING:
    from collections.abc import Callable

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Random = np.random.Generator

UNITS = {"m/s^2": 400.0, "g": 40.0, "N": 5000.0, "N·m": 90.0, "mm": 45.0, "deg": 60.0, "rad/s": 30.0}
"""Units with a size that a peak may have."""
KINDS = ("haversine", "oscillation", "peaks")
OFFSET_WINDOW_S = (-0.04, -0.005)


@dataclass(frozen=True, kw_only=True)
class Response:
    """What one axis feels; zero before its delay."""

    kind: str
    size: float
    duration_s: float
    damping: float
    second: float
    third: float
    delay_s: float = 0.0
    ripple: float = 0.0
    ripple_hz: float = 100.0

    def at(self, time_s: Floats) -> Floats:
        """Return the response at the times given."""
        x = np.clip((time_s - self.delay_s) / self.duration_s, 0.0, None)
        if self.kind == "haversine":
            y = _hump(x) - 0.3 * self.second * _hump((x - 1) / 1.5)
        elif self.kind == "oscillation":
            # Two periods in one duration and a start without a jump in slope.
            y = 1.4 * np.exp(-self.damping * 4 * np.pi * x) * np.sin(4 * np.pi * x) * (1 - np.exp(-8 * x))
        else:
            y = _hump(x / 0.6) + self.second * _hump((x - 0.35) / 0.5) - self.third * _hump((x - 0.8) / 0.6)
        since = np.clip(time_s - self.delay_s, 0.0, None)
        swing = np.sin(2 * np.pi * self.ripple_hz * since) * np.exp(-since / self.duration_s)
        return np.asarray(self.size * (y + self.ripple * swing))


@dataclass(frozen=True, kw_only=True)
class Sensor:
    """Three axes with what is needed to write them as signals; the first axis is the strongest."""

    axes: tuple[Response, Response, Response]
    unit: str
    noise: float
    rate_hz: float
    before_s: float
    after_s: float

    def samples(self, random: Random) -> Floats:
        """Return noisy samples of the axes, shape ``(3, n)``."""
        exact = np.stack([axis.at(self.time_s) for axis in self.axes])
        spread = self.noise * abs(self.axes[0].size)
        return exact + spread * random.standard_normal(exact.shape)

    @property
    def time_s(self) -> Floats:
        """Times of the samples, shape ``(n,)``."""
        count = round((self.before_s + self.after_s) * self.rate_hz) + 1
        return -self.before_s + np.arange(count) / self.rate_hz

    def signals(self, random: Random, name: str) -> tuple[Signal, ...]:
        """Return the axes as raw signals."""
        return tuple(
            Signal(
                samples=row,
                start_s=-self.before_s,
                step_s=1 / self.rate_hz,
                unit=self.unit,
                channel=f"{name} {axis}",
            )
            for row, axis in zip(self.samples(random), "xyz", strict=True)
        )


def random_test(random: Random) -> Sensor:
    """Return a three-axis sensor as a laboratory records it: 20 kHz, 50 ms before the trigger, noise."""
    unit = str(random.choice(list(UNITS)))
    size = UNITS[unit] * float(np.exp(random.normal(0, 0.4))) * float(random.choice([-1, 1]))
    duration = float(np.exp(random.uniform(np.log(0.010), np.log(0.060))))
    first = _response(random, size, duration)
    others = [
        _response(
            random,
            size * random.uniform(0.15, 0.8) * float(random.choice([-1, 1])),
            duration * random.uniform(0.6, 1.4),
        )
        for _ in range(2)
    ]
    return Sensor(
        axes=(first, others[0], others[1]),
        unit=unit,
        noise=random.uniform(0.002, 0.01),
        rate_hz=20_000.0,
        before_s=0.05,
        after_s=0.25,
    )


def moderate_model(test: Sensor, random: Random, *, noisy: bool | None = None) -> Sensor:
    """Return a model that errs a little in everything: size by 10 %, duration by 8 %."""

    def near(axis: Response) -> Response:
        return replace(
            axis,
            size=axis.size * float(np.exp(np.clip(random.normal(0, 0.10), -0.25, 0.25))),
            duration_s=axis.duration_s * float(np.exp(np.clip(random.normal(0, 0.08), -0.2, 0.2))),
            damping=axis.damping * float(np.exp(random.normal(0, 0.2))),
            second=axis.second * float(np.exp(random.normal(0, 0.2))),
            third=axis.third * float(np.exp(random.normal(0, 0.2))),
            delay_s=min(0.1 * axis.duration_s, 0.003) * random.uniform(-1, 1),
            ripple=random.uniform(-0.1, 0.1),
            ripple_hz=random.uniform(50, 300),
        )

    return _modelled(test, near, random, 0.01, noisy=noisy)


def poor_model(test: Sensor, random: Random) -> Sensor:
    """Return an honest model that errs much: size, duration, delay, damping, ripple, often the shape."""
    scale = {key: float(np.exp(random.normal(0, spread))) for key, spread in (("size", 0.35), ("time", 0.25))}
    shape = random.uniform() < 0.35

    def far(axis: Response) -> Response:
        other = _response(random, axis.size, axis.duration_s) if shape else axis
        return replace(
            other,
            size=axis.size * float(np.clip(scale["size"], 0.4, 2.2)) * float(np.exp(random.normal(0, 0.15))),
            duration_s=axis.duration_s * float(np.clip(scale["time"], 0.55, 1.8)),
            damping=other.damping * float(np.exp(random.uniform(np.log(0.3), np.log(3)))),
            delay_s=min(0.25 * axis.duration_s, 0.008) * random.uniform(-1, 1),
            ripple=random.uniform(-0.4, 0.4),
            ripple_hz=random.uniform(50, 300),
        )

    return _modelled(test, far, random, 0.03)


def fitting_recipe(test: Sensor, random: Random) -> Recipe:
    """Return a recipe that suits a test: class by duration, interval from zero past the event."""
    duration = test.axes[0].duration_s
    classes = (600, 1000) if duration < 0.02 else (180, 600) if duration < 0.035 else (60, 180, 600)
    end = min(1.3 * max(axis.duration_s for axis in test.axes) + random.uniform(0.01, 0.04), 0.14)
    return Recipe(
        cfc=int(random.choice(classes)),
        start_s=0.0,
        end_s=round(end, 3),
        reference_offset_window_s=OFFSET_WINDOW_S,
    )


def _modelled(
    test: Sensor,
    change: Callable[[Response], Response],
    random: Random,
    most: float,
    *,
    noisy: bool | None = None,
) -> Sensor:
    loud = random.uniform() < 0.5 if noisy is None else noisy
    return replace(
        test,
        axes=(change(test.axes[0]), change(test.axes[1]), change(test.axes[2])),
        noise=random.uniform(0.001, most) if loud else 0.0,
        rate_hz=float(random.choice([10_000, 20_000])),
        before_s=float(random.choice([0.0, 0.01, 0.05])),
        after_s=float(random.choice([0.2, 0.25])),
    )


def _response(random: Random, size: float, duration_s: float) -> Response:
    return Response(
        kind=str(random.choice(KINDS)),
        size=size,
        duration_s=duration_s,
        damping=random.uniform(0.05, 0.3),
        second=random.uniform(0.3, 0.9),
        third=random.uniform(0.0, 0.5),
    )


def _hump(x: Floats) -> Floats:
    return np.asarray(np.sin(np.pi * np.clip(x, 0, 1)) ** 2)
