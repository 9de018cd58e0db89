"""The result of the laboratory: one physical test, measured and digitised."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

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
        Time base [s]; zero is the trigger.
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
    conditions: Conditions

    def channel(self, code: str) -> RecordedChannel:
        """Give the channel of one code.

        Raises
        ------
        KeyError
            No channel has that code.
        """
        for channel in self.channels:
            if channel.code == code:
                return channel
        raise KeyError(code)
