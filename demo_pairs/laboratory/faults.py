"""Planted faults: typical laboratory errors, one kind per file, so that a data check can be tested.

Each fault takes a healthy record and gives a copy with one channel (or the header) spoilt. Nothing in
the copy itself says so; the manifest does.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from demo_pairs.laboratory.measuring_chain import COUNTS, RecordedChannel, TestRecord

STANDARD_GRAVITY = 9.80665
Spoil = Callable[[RecordedChannel, NDArray[np.float64]], RecordedChannel]
"""Healthy channel and its times [s] -> spoilt channel."""


@dataclass(frozen=True, kw_only=True)
class PlantedFault:
    """One planted fault.

    Attributes
    ----------
    kind
        Name of the kind.
    load_case, repeat
        Whose record is copied.
    code
        The spoilt channel; empty when the whole test is concerned.
    detail
        What was done, in words and numbers.
    spoil
        Makes the spoilt channel; ``None`` when only the header is wrong.
    sampling_step
        Step that the header claims [s]; zero leaves it true.
    """

    kind: str
    load_case: str
    repeat: int
    code: str
    detail: str
    spoil: Spoil | None = None
    sampling_step: float = 0.0

    def plant(self, record: TestRecord) -> TestRecord:
        """Give the record with the fault."""
        step = self.sampling_step or record.sampling_step
        if self.spoil is None:
            return replace(record, sampling_step=step)
        count = np.arange(record.channels[0].samples.size, dtype=np.float64)
        times = np.round(record.first_time + record.sampling_step * count, 9)
        channels = tuple(
            self.spoil(channel, times) if channel.code == self.code else channel
            for channel in record.channels
        )
        return replace(record, channels=channels)


def saturate(range_limit: float) -> Spoil:
    """Clip at a measuring range [unit] that was chosen too small."""

    def spoil(channel: RecordedChannel, _times: NDArray[np.float64]) -> RecordedChannel:
        resolution = range_limit / COUNTS
        counts = np.clip(np.rint(channel.samples / resolution), -COUNTS, COUNTS - 1)
        return replace(
            channel, samples=counts * resolution + 0.0, resolution=resolution, full_scale=range_limit
        )

    return spoil


def spike(time: float, height: float) -> Spoil:
    """Add a disturbance of one sample at ``time`` [s], ``height`` [unit] tall, with half of it beside."""

    def spoil(channel: RecordedChannel, times: NDArray[np.float64]) -> RecordedChannel:
        samples = channel.samples.copy()
        hit = int(np.argmin(np.abs(times - time)))
        samples[hit] += height
        samples[hit + 1] -= 0.5 * height
        return replace(channel, samples=_on_counts(samples, channel.resolution))

    return spoil


def drop_out(start: float, end: float) -> Spoil:
    """Lose the signal between two times [s]: the recorder shows zero."""

    def spoil(channel: RecordedChannel, times: NDArray[np.float64]) -> RecordedChannel:
        lost = (times >= start) & (times < end)
        return replace(channel, samples=np.where(lost, 0.0, channel.samples))

    return spoil


def swap_sign(channel: RecordedChannel, _times: NDArray[np.float64]) -> RecordedChannel:
    """Turn the polarity, as a sensor mounted the wrong way round does."""
    return replace(channel, samples=-channel.samples + 0.0)


def write_in_g(channel: RecordedChannel, _times: NDArray[np.float64]) -> RecordedChannel:
    """Write values in g while the header goes on saying m/s^2."""
    return replace(
        channel,
        samples=channel.samples / STANDARD_GRAVITY,
        resolution=channel.resolution / STANDARD_GRAVITY,
        full_scale=channel.full_scale / STANDARD_GRAVITY,
    )


def drift(total: float) -> Spoil:
    """Let the zero wander evenly by ``total`` [unit] over the record."""

    def spoil(channel: RecordedChannel, times: NDArray[np.float64]) -> RecordedChannel:
        ramp = total * (times - times[0]) / (times[-1] - times[0])
        return replace(channel, samples=_on_counts(channel.samples + ramp, channel.resolution))

    return spoil


def _on_counts(samples: NDArray[np.float64], resolution: float) -> NDArray[np.float64]:
    return np.asarray(np.rint(samples / resolution) * resolution + 0.0, dtype=np.float64)


FAULTS: tuple[PlantedFault, ...] = (
    PlantedFault(
        kind="saturation", load_case="head-drop", repeat=2, code="D0HEAD0000KMACXP",
        detail="measuring range 1500 m/s^2 is smaller than the peak", spoil=saturate(1500.0),
    ),
    PlantedFault(
        kind="spike", load_case="thorax-impact", repeat=3, code="D0THSPUP00KMACXP",
        detail="one sample of +600 m/s^2 at 35 ms, the next -300 m/s^2", spoil=spike(0.035, 600.0),
    ),
    PlantedFault(
        kind="dropout", load_case="neck-flexion", repeat=1, code="D0HEAD0000KMANYP",
        detail="zero from 42 ms to 54 ms", spoil=drop_out(0.042, 0.054),
    ),
    PlantedFault(
        kind="swapped-sign", load_case="neck-extension", repeat=2, code="D0NECKUP00KMMOYP",
        detail="polarity turned", spoil=swap_sign,
    ),
    PlantedFault(
        kind="wrong-unit", load_case="knee-impact", repeat=4, code="00PEND000000ACXP",
        detail="values in g, header says m/s^2", spoil=write_in_g,
    ),
    PlantedFault(
        kind="offset-drift", load_case="seat-drop", repeat=1, code="D0LUSP0000KMFOZP",
        detail="zero wanders by +900 N over the record", spoil=drift(900.0),
    ),
    PlantedFault(
        kind="wrong-sample-rate", load_case="thorax-impact-low", repeat=2, code="",
        detail="header says 0.1 ms, true step is 0.05 ms", sampling_step=1e-4,
    ),
)  # fmt: skip
"""One of every kind."""
