"""What importing the formats costs: nothing heavy is loaded before there is much to read."""

from __future__ import annotations

import subprocess
import sys
import tracemalloc
from typing import TYPE_CHECKING

import numpy as np

from correlate.formats import Recording, delimited, iso13499, read
from tests.formats.examples import signal

if TYPE_CHECKING:
    from pathlib import Path


def test_importing_and_reading_a_small_file_loads_no_heavy_library(tmp_path: Path) -> None:
    """In a fresh process, neither scipy nor the compiler is loaded."""
    path = tmp_path / "run.csv"
    path.write_text("time [ms],a [g]\n0,1\n1,2\n")
    code = (
        "import sys; from correlate.formats import read; "
        f"read({str(path)!r}); print(sorted({{'scipy', 'numba', 'pandas', 'plotly'}} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    assert done.stdout.strip() == "[]"


def test_memory_stays_below_three_times_the_arrays(tmp_path: Path) -> None:
    """Sixteen channels of 35,000 samples as a folder, as a zip file and as text."""
    chance = np.random.default_rng(0)
    signals = tuple(
        signal(np.round(chance.standard_normal(35_000), 4), channel=f"D0SEAT{number:04d}KMACZ0")
        for number in range(16)
    )
    iso13499.write_test(tmp_path / "KM1", name="KM1", description={}, signals=signals)
    recording = Recording(signals=signals, path=tmp_path, format="")
    iso13499.write(recording, tmp_path / "KM1.zip")
    delimited.write(recording, tmp_path / "run.csv")
    for name in ("KM1", "KM1.zip", "run.csv"):
        read(tmp_path / name)
        tracemalloc.start()
        seen = read(tmp_path / name)
        _, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        assert peak < 3 * sum(one.samples.nbytes for one in seen.signals)
