"""Peak, noise and ringing of the demo's sensors, measured on records behind the classes of the campaign."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

import demo_pairs
from correlate import Signal, filter_cfc, load_campaign
from correlate.plots import channel_title
from demo_pairs.laboratory import LOAD_CASES, mounted, record
from demo_pairs.laboratory.measuring_chain import FIRST_TIME, GRID_START, GRID_STEP, SAMPLING_STEP, grid
from demo_pairs.laboratory.ringing import ring

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from demo_pairs.laboratory.measuring_chain import Sensor, TestRecord

REPEAT: Final = 1
QUIET: Final = slice(100, 900)
"""Samples of a record from 45 to 5 ms before contact."""


@dataclass(frozen=True, kw_only=True)
class SensorRow:
    """What one sensor shows in one repeat.

    Attributes
    ----------
    load_case, title, unit
        Which channel.
    frequency_class
        Class of the campaign.
    peak
        Largest magnitude behind it [unit].
    noise, filtered_noise
        Rms about the slow trend before contact, raw and behind the class, as shares of the peak.
    ringing
        Largest value of the sensor's modes behind the class, as a share of the peak.
    modes
        Natural frequencies [Hz].
    """

    load_case: str
    title: str
    unit: str
    frequency_class: int
    peak: float
    noise: float
    filtered_noise: float
    ringing: float
    modes: tuple[float, ...]


def sensor_rows() -> list[SensorRow]:
    """Measure every sensor of every load case on its first repeat."""
    campaign = load_campaign(Path(demo_pairs.__file__).parent)
    classes = {(case.name, one.test): one.cfc for case in campaign.load_cases for one in case.channel}
    tests = {load_case: record(load_case, REPEAT) for load_case in LOAD_CASES}
    return [
        _row(load_case, tests[load_case], sensor, int(classes[load_case, sensor.code] or 0))
        for load_case in LOAD_CASES
        for sensor in mounted(load_case)
    ]


def _row(load_case: str, test: TestRecord, sensor: Sensor, frequency_class: int) -> SensorRow:
    raw = test.channel(sensor.code).samples
    still = raw - raw[: QUIET.stop].mean()
    filtered = _filtered(still, FIRST_TIME, SAMPLING_STEP, sensor.unit, frequency_class)
    peak = float(np.abs(filtered).max())
    alone = sum(
        (ring(grid(), mode, test.conditions.impact_speed) for mode in sensor.modes),
        start=np.zeros(grid().size),
    )
    rung = _filtered(alone, GRID_START, GRID_STEP, sensor.unit, frequency_class)
    return SensorRow(
        load_case=load_case,
        title=channel_title(sensor.code),
        unit=sensor.unit,
        frequency_class=frequency_class,
        peak=peak,
        noise=_spread(raw) / peak,
        filtered_noise=_spread(filtered) / peak,
        ringing=float(np.abs(rung).max()) / peak,
        modes=tuple(mode.frequency for mode in sensor.modes),
    )


def _filtered(
    samples: NDArray[np.float64], start: float, step: float, unit: str, frequency_class: int
) -> NDArray[np.float64]:
    signal = Signal(samples=samples, start_s=start, step_s=step, unit=unit, channel="x")
    return np.asarray(filter_cfc(signal, frequency_class).samples, dtype=np.float64)


def _spread(samples: NDArray[np.float64]) -> float:
    still = samples[QUIET]
    count = np.arange(still.size)
    return float(np.std(still - np.polyval(np.polyfit(count, still, 3), count)))
