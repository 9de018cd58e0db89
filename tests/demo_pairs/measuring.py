"""How the tests measure a record: filter, zero, peaks. Shares no code with the package."""

import math
import tomllib
from functools import cache
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from demo_pairs.laboratory import TestRecord, record, repeats

STANDARD_GRAVITY = 9.80665
PAD = 2000
PRE_TRIGGER = 900
"""Samples whose mean is the offset: all until 5 ms before time zero."""

WINDOWS_FILE = Path(__file__).parents[2] / "correlate" / "criteria" / "qualification_windows.toml"


@cache
def records(load_case: str) -> tuple[TestRecord, ...]:
    """All repeats of a load case, recorded once for all tests."""
    return tuple(record(load_case, repeat) for repeat in range(1, repeats(load_case) + 1))


def cfc(samples: NDArray[np.float64], frequency_class: float, step: float) -> NDArray[np.float64]:
    """Channel frequency class filter in the frequency domain, from the closed form of the double pass.

    ``|H| = 1 / (1 + (tan(pi f dt) / w_a)^4)`` with ``w_a = tan(pi CFC 2.0775 dt)``: SAE J211-1, from memory.
    """
    before = 2.0 * samples[0] - samples[PAD:0:-1]
    after = 2.0 * samples[-1] - samples[-2 : -PAD - 2 : -1]
    padded = np.concatenate([before, samples, after])
    # a straight line from end to end is taken out, so that the circular transform sees no step
    line = np.linspace(padded[0], padded[-1], padded.size)
    frequency = np.fft.rfftfreq(padded.size, step)
    corner = math.tan(math.pi * frequency_class * 2.0775 * step)
    inside = np.clip(np.pi * frequency * step, 0.0, 0.5 * np.pi - 1e-9)
    gain = 1.0 / (1.0 + (np.tan(inside) / corner) ** 4)
    filtered = np.fft.irfft(np.fft.rfft(padded - line) * gain, padded.size) + line
    return np.asarray(filtered[PAD : PAD + samples.size], dtype=np.float64)


def times(test: TestRecord) -> NDArray[np.float64]:
    """Return the times of a record [s]."""
    count = np.arange(test.channels[0].samples.size, dtype=np.float64)
    return test.first_time + test.sampling_step * count


def filtered(test: TestRecord, code: str, frequency_class: float) -> NDArray[np.float64]:
    """One channel without its pre-trigger offset, filtered."""
    samples = test.channel(code).samples
    return cfc(samples - samples[:PRE_TRIGGER].mean(), frequency_class, test.sampling_step)


def zero_crossing_after(values: NDArray[np.float64], start: int) -> int:
    """First sample after ``start`` that is not positive."""
    return start + int(np.flatnonzero(values[start:] <= 0.0)[0])


def windows(section: str, word: str) -> dict[str, list[float]]:
    """Limits of one published window of the adult male."""
    listed: list[dict[str, Any]] = tomllib.loads(WINDOWS_FILE.read_text(encoding="utf-8"))["window"]
    (found,) = [entry for entry in listed if entry["section"] == section and word in entry["test"]]
    limits: dict[str, list[float]] = found["limits"]
    return limits
