"""Reading test folders and delimited text against the fastest general readers, on the same files."""

from __future__ import annotations

import functools
import tempfile
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from correlate.formats import Recording, delimited, iso13499, read
from correlate.signal import Signal
from tests.benchmarks.memory import added_peak_mb
from tests.benchmarks.table import Row, compare

if TYPE_CHECKING:
    from collections.abc import Iterator

CHANNELS = 128
SAMPLES = 35_000
HEADER_LINES = 12

PREPARE = """
from pathlib import Path
from correlate.formats import read
path = Path({path!r})
read(Path({warm!r}))
"""


def rows() -> Iterator[Row]:
    """Compare one test of 128 channels, as a data recorder rounds it and with every digit of a float64."""
    with tempfile.TemporaryDirectory() as folder:
        for digits in (7, 17):
            yield from _rows(Path(folder), digits)


def write_both(folder: Path, name: str, signals: list[Signal], digits: int) -> tuple[Path, Path]:
    """Write one recording as a test folder and as delimited text.

    Parameters
    ----------
    folder
        Where.
    name
        Of the test.
    signals
        The channels.
    digits
        Significant digits.

    Returns
    -------
    test, table : Path
    """
    test = folder / name
    description = {"Title": "random walks"}
    iso13499.write_test(test, name=name, description=description, signals=signals, significant_digits=digits)
    table = folder / f"{name}.csv"
    delimited.write(Recording(signals=read(test).signals, path=test, format=""), table)
    return test, table


def random_walks(channels: int, samples: int) -> list[Signal]:
    """Return random walks at 20 kHz."""
    random = np.random.default_rng(0)
    return [
        Signal(
            samples=np.cumsum(random.standard_normal(samples)),
            start_s=-0.05,
            step_s=5e-5,
            unit="g",
            channel=f"D0SEAT{number:04d}KMACZ0",
        )
        for number in range(channels)
    ]


def _rows(folder: Path, digits: int) -> Iterator[Row]:
    small = write_both(folder, f"SMALL{digits}", random_walks(2, 100), digits)
    large = write_both(folder, f"TEST{digits}", random_walks(CHANNELS, SAMPLES), digits)
    size = f"{CHANNELS} channels × {SAMPLES:,} samples, {digits} digits"
    for what, path, warm in zip(("ISO/TS 13499 folder", "delimited text"), large, small, strict=True):
        added = added_peak_mb(PREPARE.format(path=str(path), warm=str(warm)), "kept = read(path)")
        for name, peer in _peers(path).items():
            yield compare(
                f"{what}, {size}, against {name}",
                functools.partial(read, path),
                peer,
                goal=5.0 if name == "numpy.loadtxt" else None,
                repetitions=5,
                peak_mb=added,
            )


def _peers(path: Path) -> dict[str, functools.partial[Any]]:
    """Return the general readers; none of them reads names, units or times, or checks anything."""
    frames: Any = import_module("pandas")  # slow, and without types
    # Its quickest way: compiled, with a parser of numbers that may miss the last digit.
    fast = functools.partial(frames.read_csv, engine="c", header=None)
    columns = functools.partial(_columns, import_module("pyarrow.csv"))
    if path.is_file():
        return {
            "numpy.loadtxt": functools.partial(np.loadtxt, path, delimiter=",", skiprows=1),
            "pandas.read_csv": functools.partial(fast, path, skiprows=1),
            "pyarrow.csv": functools.partial(columns, path, skipped=1),
        }
    channels = sorted((path / "Channel").glob(f"{path.name}.[0-9]*"))
    return {
        "numpy.loadtxt": functools.partial(
            _each, functools.partial(np.loadtxt, skiprows=HEADER_LINES), channels
        ),
        "pandas.read_csv": functools.partial(_each, functools.partial(fast, skiprows=HEADER_LINES), channels),
        "pyarrow.csv": functools.partial(_each, functools.partial(columns, skipped=HEADER_LINES), channels),
    }


def _columns(reader: Any, path: Path, *, skipped: int) -> None:
    """Read by Arrow in one thread, as all others do."""
    options = reader.ReadOptions(skip_rows=skipped, autogenerate_column_names=True, use_threads=False)
    reader.read_csv(path, read_options=options)


def _each(reader: functools.partial[Any], channels: list[Path]) -> None:
    for channel in channels:
        reader(channel)
