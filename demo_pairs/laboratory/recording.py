"""The interface of the laboratory: run one repeat of one load case and record it."""

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np
from numpy.typing import NDArray

from demo_pairs.laboratory import sensors
from demo_pairs.laboratory.measuring_chain import (
    FIRST_TIME,
    SAMPLING_STEP,
    SPARE,
    Conditions,
    RecordedChannel,
    Sensor,
    TestRecord,
    grid,
    measure,
    moved,
    recorder_times,
    trigger_jitter,
)
from demo_pairs.laboratory.rigs import head, knee, neck, seat, thorax
from demo_pairs.laboratory.rigs.physical import Physical
from demo_pairs.laboratory.ringing import hum, ringing
from demo_pairs.laboratory.scatter import Variation, draw, generator
from demo_pairs.laboratory.time_zero import ContactSwitch, Method, RawRecord, Threshold, set_time_zero

Rig = Callable[[NDArray[np.float64], Variation], Physical]


@dataclass(frozen=True, kw_only=True)
class RecordedLoadCase:
    """One load case of the laboratory: ``seed`` fixes all draws, ``short`` goes into test names."""

    seed: int
    short: str
    title: str
    repeats: int
    day: str
    serial: str
    rig: Rig
    sensors: tuple[Sensor, ...]
    time_zero: Method


FIVE_G = 49.0
"""Level of the thresholds [m/s^2]; common practice, no source."""

_CASES = {
    "head-drop": RecordedLoadCase(
        seed=1008, short="HD", title="head drop, 376 mm onto a rigid plate", repeats=5,
        day="2024-03-04", serial="KM-H-007", rig=head.simulate, sensors=sensors.HEAD,
        time_zero=Threshold(code="D0HEAD0000KMACXP", level=FIVE_G, frequency_class=1000),
    ),
    "neck-flexion": RecordedLoadCase(
        seed=1063, short="NF", title="neck pendulum, flexion, 7.0 m/s", repeats=5,
        day="2024-03-06", serial="KM-N-011", sensors=sensors.NECK,
        time_zero=ContactSwitch(parts="pendulum and honeycomb"),
        rig=partial(neck.simulate, facing=neck.FLEXION, speed=7.0),
    ),
    "neck-extension": RecordedLoadCase(
        seed=1041, short="NE", title="neck pendulum, extension, 6.1 m/s", repeats=5,
        day="2024-03-07", serial="KM-N-011", sensors=sensors.NECK,
        time_zero=ContactSwitch(parts="pendulum and honeycomb"),
        rig=partial(neck.simulate, facing=neck.EXTENSION, speed=6.1),
    ),
    "thorax-impact": RecordedLoadCase(
        seed=1010, short="TI", title="thorax impact, 23.4 kg probe at 6.71 m/s", repeats=5,
        day="2024-03-12", serial="KM-T-004", sensors=sensors.THORAX,
        time_zero=ContactSwitch(parts="probe and chest"),
        rig=partial(thorax.simulate, speed=6.71),
    ),
    "thorax-impact-low": RecordedLoadCase(
        seed=1052, short="TL", title="thorax impact, 23.4 kg probe at 4.3 m/s", repeats=3,
        day="2024-03-13", serial="KM-T-004", sensors=sensors.THORAX,
        time_zero=ContactSwitch(parts="probe and chest"),
        rig=partial(thorax.simulate, speed=4.3),
    ),
    "knee-impact": RecordedLoadCase(
        seed=1014, short="KI", title="knee impact, 5 kg probe at 2.1 m/s", repeats=5,
        day="2024-03-14", serial="KM-K-009", sensors=sensors.KNEE,
        time_zero=Threshold(code="00PEND000000ACXP", level=FIVE_G, frequency_class=600),
        rig=partial(knee.simulate, speed=2.1),
    ),
    "seat-drop": RecordedLoadCase(
        seed=1001, short="SD", title="seat drop, vertical slam of about 12 g and 100 ms", repeats=3,
        day="2024-04-09", serial="KM-W-002", sensors=sensors.SEAT,
        time_zero=ContactSwitch(parts="carriage and pulse shaper"),
        rig=partial(seat.simulate, speed=3.6),
    ),
    "seat-drop-high": RecordedLoadCase(
        seed=1005, short="SH", title="seat drop, vertical slam of about 18 g and 100 ms", repeats=3,
        day="2024-04-11", serial="KM-W-002", sensors=sensors.SEAT,
        time_zero=ContactSwitch(parts="carriage and pulse shaper"),
        rig=partial(seat.simulate, speed=5.5),
    ),
}  # fmt: skip

LOAD_CASES: tuple[str, ...] = tuple(_CASES)


def repeats(load_case: str) -> int:
    """Give how many repeats of a load case the laboratory ran."""
    return planned(load_case).repeats


def mounted(load_case: str) -> tuple[Sensor, ...]:
    """Give the sensors of a load case, in the order of the channels of its records."""
    return planned(load_case).sensors


def record(load_case: str, repeat: int) -> TestRecord:
    """Run and record one repeat."""
    case = planned(load_case)
    if not 1 <= repeat <= case.repeats:
        raise ValueError(f"{load_case} has repeats 1 to {case.repeats}, not {repeat}")
    return recorded(case, load_case, repeat, draw(case.seed, repeat))


def recorded(case: RecordedLoadCase, load_case: str, repeat: int, variation: Variation) -> TestRecord:
    """Run and record one test with a variation."""
    physical = case.rig(grid(), variation)
    random = generator(case.seed, repeat, 1)
    jitter = trigger_jitter(random)
    felt = _felt(case.sensors, physical, generator(case.seed, repeat, 2))
    stored = {
        sensor.code: measure(felt[sensor.code], sensor, jitter=jitter, random=random, spare=SPARE)
        for sensor in case.sensors
    }
    raw = RawRecord(times=recorder_times(), samples=stored, contact=-jitter)
    time_zero = set_time_zero(case.time_zero, raw, generator(case.seed, repeat, 3))
    return TestRecord(
        name=f"KELPM_{case.short}{repeat:02d}",
        title=case.title,
        load_case=load_case,
        repeat=repeat,
        channels=tuple(_channel(sensor, moved(stored[sensor.code], time_zero)) for sensor in case.sensors),
        sampling_step=SAMPLING_STEP,
        first_time=FIRST_TIME,
        time_zero=time_zero,
        conditions=Conditions(
            impact_speed=round(physical.impact_speed, 3),
            temperature=variation.temperature,
            humidity=variation.humidity,
            date=case.day,
            serial=case.serial,
            moving_mass=physical.moving_mass,
        ),
    )


def planned(load_case: str) -> RecordedLoadCase:
    """Give the plan of a load case."""
    try:
        return _CASES[load_case]
    except KeyError:
        raise ValueError(
            f"the laboratory has no load case '{load_case}'; it has {', '.join(LOAD_CASES)}"
        ) from None


def _felt(
    carried: tuple[Sensor, ...], physical: Physical, random: np.random.Generator
) -> dict[str, NDArray[np.float64]]:
    """Give what each sensor feels: the motion of its body, the ringing of its structure, mains hum."""
    times = grid()
    return {
        sensor.code: physical.histories[sensor.quantity]
        + ringing(times, sensor.modes, physical.impact_speed, random)
        + hum(times, sensor.hum * sensor.full_scale, random)
        for sensor in carried
    }


def _channel(sensor: Sensor, samples: NDArray[np.float64]) -> RecordedChannel:
    return RecordedChannel(
        code=sensor.code,
        description=sensor.description,
        unit=sensor.unit,
        samples=samples,
        resolution=sensor.resolution,
        full_scale=sensor.full_scale,
    )
