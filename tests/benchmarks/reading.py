"""Reading test folders and delimited text against the general text reader of numpy, on the same files."""

from __future__ import annotations

import functools
import tempfile
from pathlib import Path

import numpy as np

from correlate.formats import Recording, delimited, iso13499, read
from correlate.signal import Signal
from tests.benchmarks.table import Row, compare

CHANNELS = 128
SAMPLES = 35_000
HEADER_LINES = 12


def rows() -> list[Row]:
    """Compare one test of 128 channels, as a data recorder rounds it and with every digit of a float64."""
    with tempfile.TemporaryDirectory() as folder:
        return [row for digits in (7, 17) for row in _rows(Path(folder), digits)]


def _rows(folder: Path, digits: int) -> list[Row]:
    test = folder / f"TEST{digits}"
    iso13499.write_test(
        test,
        name=test.name,
        description={"Title": "random walks"},
        signals=_random_walks(),
        significant_digits=digits,
    )
    table = folder / f"table{digits}.csv"
    delimited.write(Recording(signals=read(test).signals, path=test, format=""), table)
    channels = sorted((test / "Channel").glob(f"{test.name}.[0-9]*"))
    size = f"{CHANNELS} channels × {SAMPLES:,} samples, {digits} digits"
    return [
        compare(
            f"ISO/TS 13499 folder, {size}, against numpy.loadtxt",
            functools.partial(read, test),
            functools.partial(_each_with_numpy, channels),
            goal=5.0,
        ),
        compare(
            f"delimited text, {size}, against numpy.loadtxt",
            functools.partial(read, table),
            functools.partial(np.loadtxt, table, delimiter=",", skiprows=1),
            goal=5.0,
        ),
    ]


def _each_with_numpy(channels: list[Path]) -> None:
    for channel in channels:
        np.loadtxt(channel, skiprows=HEADER_LINES)


def _random_walks() -> list[Signal]:
    random = np.random.default_rng(0)
    return [
        Signal(
            samples=np.cumsum(random.standard_normal(SAMPLES)),
            start_s=-0.05,
            step_s=5e-5,
            unit="g",
            channel=f"D0SEAT{number:04d}KMACZ0",
        )
        for number in range(CHANNELS)
    ]
