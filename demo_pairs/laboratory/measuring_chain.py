"""The result of the laboratory: one physical test, measured and digitised."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from demo_pairs.laboratory.scatter import truncated_normal

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from demo_pairs.laboratory.ringing import Mode
    from demo_pairs.laboratory.time_zero import TimeZero

FIRST_TIME = -0.05
SAMPLING_STEP = 5e-5
SAMPLES = 5201


@dataclass(frozen=True, kw_only=True)
class RecordedChannel:
    """One digitised channel.

    Attributes
    ----------
    code
        16-character channel code after ISO/TS 13499.
    description
        Plain words.
    unit
        Unit of ``samples``.
    samples
        Shape ``(n,)``: integer counts times ``resolution``, so the bytes are the same everywhere.
    resolution
        Value of one count, in ``unit``.
    full_scale
        Largest value the channel can show, in ``unit``.
    frequency_class
        Channel frequency class as recorded; "0" is none.
    """

    code: str
    description: str
    unit: str
    samples: NDArray[np.float64]
    resolution: float
    full_scale: float
    frequency_class: str = "0"


@dataclass(frozen=True, kw_only=True)
class Conditions:
    """Circumstances of one test, fixed in the data.

    Attributes
    ----------
    impact_speed
        Speed at first contact [m/s].
    temperature, humidity
        Laboratory air [°C], [%].
    date
        Day of the test, ``YYYY-MM-DD``.
    serial
        Serial number of the (invented) dummy part.
    moving_mass
        Mass that strikes [kg]: probe, head or carriage.
    """

    impact_speed: float
    temperature: float
    humidity: float
    date: str
    serial: str
    moving_mass: float


@dataclass(frozen=True, kw_only=True)
class TestRecord:
    """One physical repeat of one load case.

    Attributes
    ----------
    name
        Name of the test, fit for a folder.
    title
        Plain words.
    load_case, repeat
        Where it belongs; repeats count from 1.
    channels
        The digitised channels, all of one length.
    sampling_step, first_time
        Time base [s]; zero is first contact as the laboratory found it.
    time_zero
        How it was found, and how far it lies from the trigger.
    conditions
        Speed, climate, date.
    """

    __test__ = False  # "Test" is the trade's word here, not the test runner's

    name: str
    title: str
    load_case: str
    repeat: int
    channels: tuple[RecordedChannel, ...]
    sampling_step: float
    first_time: float
    time_zero: TimeZero
    conditions: Conditions

    def channel(self, code: str) -> RecordedChannel:
        """Give the channel of one code."""
        for channel in self.channels:
            if channel.code == code:
                return channel
        raise KeyError(code)


GRID_START = -0.06
GRID_STEP = 2.5e-5
GRID_POINTS = 11_201
TRANSFORM_POINTS = 12_288
ANTI_ALIAS_FREQUENCY = 4000.0
COUNTS = 32_768
LARGEST_JITTER = 5e-4
GAIN_SPREAD = 0.01
OFFSET_SPREAD = 1e-3
NOISE = 2e-4
SPARE = 20
"""Samples that the recorder keeps at either end, until time zero is set: 1 ms."""


@dataclass(frozen=True, kw_only=True)
class Sensor:
    """One transducer with its place in the record.

    Attributes
    ----------
    quantity
        Name of the physical time history it feels.
    code, description, unit
        As recorded; the physical quantity is already in this unit and polarity.
    full_scale
        Largest value [unit].
    mount_frequency, mount_damping
        Resonance of the mount [Hz] and its damping ratio [-]; a frequency of zero is a rigid mount.
    noise
        Rms noise as a share of full scale [-].
    hum
        Largest amplitude of the mains in its cable as a share of full scale [-].
    modes
        Vibrations of the structure under it, or of the mass on a load cell.
    """

    quantity: str
    code: str
    description: str
    unit: str
    full_scale: float
    mount_frequency: float = 0.0
    mount_damping: float = 0.05
    noise: float = NOISE
    hum: float = 0.0
    modes: tuple[Mode, ...] = ()

    @property
    def resolution(self) -> float:
        """Value of one count."""
        return self.full_scale / COUNTS


@dataclass(frozen=True, kw_only=True)
class Errors:
    """Errors of one channel in one repeat: ``gain`` [-], ``offset`` and rms ``noise`` [unit]."""

    gain: float
    offset: float
    noise: float


def grid() -> NDArray[np.float64]:
    """Give the times at which physics is simulated [s]; zero is first contact."""
    return np.round(GRID_START + GRID_STEP * np.arange(GRID_POINTS), 9)


def mount_response(frequency: NDArray[np.float64], natural: float, damping: float) -> NDArray[np.complex128]:
    r"""Transfer function of a seismic mount.

    .. math:: H = \frac{1}{1 - (f/f_0)^2 + 2i\zeta f/f_0}

    Parameters
    ----------
    frequency
        Shape ``(n,)`` [Hz].
    natural, damping
        ``f_0`` [Hz] and ``zeta`` [-].

    Returns
    -------
    ndarray
        Shape ``(n,)``, dimensionless. Textbook (derived from the single-degree equation of motion).
    """
    ratio = frequency / natural
    return np.asarray(1.0 / (1.0 - ratio**2 + 2j * damping * ratio), dtype=np.complex128)


def anti_alias_response(frequency: NDArray[np.float64], corner: float) -> NDArray[np.complex128]:
    """Transfer function of the analogue four-pole Butterworth filter before the converter."""
    s = 1j * frequency / corner
    response = np.ones_like(s)
    for angle in (np.pi / 8, 3 * np.pi / 8):
        response /= s**2 + 2 * np.cos(angle) * s + 1.0
    return response


def trigger_jitter(random: np.random.Generator) -> float:
    """Draw how late the trigger comes after first contact [s]; negative is early."""
    return truncated_normal(random, LARGEST_JITTER / 2, LARGEST_JITTER)


def draw_errors(random: np.random.Generator, sensor: Sensor) -> Errors:
    """Draw gain and offset of one channel; both are truncated at two spreads."""
    return Errors(
        gain=1.0 + truncated_normal(random, GAIN_SPREAD, 2 * GAIN_SPREAD),
        offset=truncated_normal(random, OFFSET_SPREAD, 2 * OFFSET_SPREAD) * sensor.full_scale,
        noise=sensor.noise * sensor.full_scale,
    )


def analogue(
    physical: NDArray[np.float64], sensor: Sensor, jitter: float, *, spare: int = 0
) -> NDArray[np.float64]:
    """Pass a quantity on the simulation grid through mount and filter, and sample it.

    ``spare`` samples more are given at either end.
    """
    fill = np.arange(1, TRANSFORM_POINTS - GRID_POINTS + 1) / (TRANSFORM_POINTS - GRID_POINTS + 1)
    blend = physical[-1] + (physical[0] - physical[-1]) * 0.5 * (1.0 - np.cos(np.pi * fill))
    spectrum = np.fft.rfft(np.concatenate([physical, blend]))
    frequency = np.arange(TRANSFORM_POINTS // 2 + 1) / (TRANSFORM_POINTS * GRID_STEP)
    spectrum *= anti_alias_response(frequency, ANTI_ALIAS_FREQUENCY) * np.exp(2j * np.pi * frequency * jitter)
    if sensor.mount_frequency > 0.0:
        spectrum *= mount_response(frequency, sensor.mount_frequency, sensor.mount_damping)
    smooth = np.fft.irfft(spectrum, TRANSFORM_POINTS)
    first, stride = round((FIRST_TIME - GRID_START) / GRID_STEP), round(SAMPLING_STEP / GRID_STEP)
    start, count = first - stride * spare, SAMPLES + 2 * spare
    return np.asarray(smooth[start : start + stride * count : stride], dtype=np.float64)


def digitise(values: NDArray[np.float64], sensor: Sensor) -> NDArray[np.float64]:
    """Round to 16-bit counts and clip at full scale; values are whole counts times the resolution."""
    counts = np.clip(np.rint(values / sensor.resolution), -COUNTS, COUNTS - 1)
    return np.asarray(counts * sensor.resolution + 0.0, dtype=np.float64)


def measure(
    physical: NDArray[np.float64],
    sensor: Sensor,
    *,
    jitter: float,
    random: np.random.Generator,
    spare: int = 0,
) -> NDArray[np.float64]:
    """Give what the data recorder stores for one physical quantity, ``spare`` samples more at either end."""
    errors = draw_errors(random, sensor)
    clean = analogue(physical, sensor, jitter, spare=spare)
    noise = errors.noise * random.standard_normal(clean.size)
    return digitise(errors.gain * clean + errors.offset + noise, sensor)


def recorder_times() -> NDArray[np.float64]:
    """Give the times of a record with its spare samples, counted from the trigger [s]."""
    return np.round(FIRST_TIME + SAMPLING_STEP * np.arange(-SPARE, SAMPLES + SPARE), 9)


def moved(samples: NDArray[np.float64], time_zero: TimeZero) -> NDArray[np.float64]:
    """Cut a record with its spare samples to the usual length about time zero."""
    first = SPARE + time_zero.samples
    if not 0 <= first <= 2 * SPARE:
        raise ArithmeticError(
            f"time zero lies {1e3 * time_zero.shift:g} ms from the trigger, beyond the record"
        )
    return samples[first : first + SAMPLES]
