"""Commands on a campaign whose ratings are all known, against the least that any program would do for them.

Processor time of all processes, start included. The peer starts Python, parses the campaign file and reads as
many rows as there are ratings.
"""

from __future__ import annotations

import os
import resource
import subprocess
import sys
import tempfile
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np

from tests.benchmarks.campaign import Sizes, write_project
from tests.benchmarks.growth import exponent
from tests.benchmarks.table import Row, row_of

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence

ALL_SIZES: Final = tuple(
    Sizes(load_cases=20, repeats=3, channels=channels, releases=4, samples=200) for channels in (5, 20, 80)
)
"""1,200, 4,800 and 19,200 pairs of short curves, as no curve is read."""

COMMANDS: Final = (("score", "."), ("compare", ".", "B0", "B1"), ("gate", ".", "--release", "B3"))

PEER: Final = """
import sqlite3, tomllib
with open("campaign.toml", "rb") as file:
    tomllib.load(file)
sqlite3.connect("ratings.sqlite").execute("SELECT * FROM entries").fetchall()
"""


def rows(repetitions: int = 5, sizes: Sizes = ALL_SIZES[-1]) -> Iterator[Row]:
    """Run each command in turn with the peer.

    Parameters
    ----------
    repetitions
        How often.
    sizes
        Of the campaign.
    """
    with _known(sizes) as folder:
        for command in COMMANDS:
            pairs = [(_command_s(folder, command), _run_s(folder, "-c", PEER)) for _ in range(repetitions)]
            name = f"{sizes.pairs:,} known pairs, {command[0]}, against parsing the file and reading the rows"
            yield row_of(name, pairs)


def growth_report(repetitions: int = 5, all_sizes: Sequence[Sizes] = ALL_SIZES) -> Iterator[str]:
    """Say how the time of each command grows with the number of pairs.

    Parameters
    ----------
    repetitions
        How often each size is timed.
    all_sizes
        Of the campaigns.
    """
    times: dict[str, list[list[float]]] = {command[0]: [] for command in COMMANDS}
    for sizes in all_sizes:
        with _known(sizes) as folder:
            for command in COMMANDS:
                times[command[0]].append([_command_s(folder, command) for _ in range(repetitions)])
    pairs = np.array([sizes.pairs for sizes in all_sizes], dtype=np.float64)
    for name, spent in times.items():
        rounds = np.array(spent).T
        power, low, high = exponent(pairs, rounds)
        seconds = ", ".join(f"{one:.2f} s" for one in np.median(rounds, axis=0))
        sizes_words = ", ".join(f"{int(one):,}" for one in pairs)
        yield f"{name}, {sizes_words} known pairs: {seconds}; exponent {power:.2f} ({low:.2f} to {high:.2f})"


@contextmanager
def _known(sizes: Sizes) -> Iterator[Path]:
    """Make a campaign that is rated, and whose files have records of their hashes."""
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        write_project(folder, sizes)
        for _ in range(2):
            _command_s(folder, COMMANDS[0])
        yield folder


def _command_s(folder: Path, command: Sequence[str]) -> float:
    return _run_s(folder, "-m", "correlate", *command)


def _run_s(folder: Path, *words: str) -> float:
    """Return the processor time of a Python program and its processes."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(
        [sys.executable, *words],
        cwd=folder,
        env=os.environ | {"PYTHONPATH": str(Path(__file__).parents[2]), "XDG_CACHE_HOME": f"{folder}/cache"},
        capture_output=True,
        check=False,
        text=True,
    )
    # A gate that does not pass has done its work, too.
    if done.returncode > 1:
        raise RuntimeError(f"{words} failed: {done.stderr}")
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime
