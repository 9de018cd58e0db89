"""What the invented problems share: projects that are written once, decks, curves as text, repeats."""

from __future__ import annotations

import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.ndimage import gaussian_filter1d

from correlate.files import whole_folder
from correlate.tuning.decks import DeckWriter
from correlate.tuning.definition import load_tuning
from tests.benchmarks.tuning.problem import fingerprint_of

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

PROJECTS: Final = Path(__file__).parent / "projects"


def build_project(
    name: str, folder: Path, *, write_tests: Callable[[Path], None], solve: Callable[[str, Path], None]
) -> None:
    """Write project files, tests and the results of the start, unless the folder holds the same already."""
    with tempfile.TemporaryDirectory() as scratch:
        made = Path(scratch) / name
        shutil.copytree(PROJECTS / name, made)
        write_tests(made / "tests")
        tuning = load_tuning(made)
        start = tuning.space.as_values(tuning.space.start_point)
        solve(DeckWriter(tuning).write(start, name="start").text, made / "releases" / "start")
        if folder.exists() and fingerprint_of(folder) == fingerprint_of(made):
            return
        shutil.rmtree(folder, ignore_errors=True)
        with whole_folder(folder) as beside:
            shutil.copytree(made, beside, dirs_exist_ok=True)


def deck_values(text: str) -> dict[str, float]:
    """Read a deck of lines ``name = value``; the rest of a line after ``#`` is a comment."""
    lines = (line.partition("#")[0].split("=") for line in text.splitlines())
    return {line[0].strip(): float(line[1]) for line in lines if len(line) == 2}


def write_curves(path: Path, time: Floats, columns: Mapping[str, Floats], *, digits: int = 7) -> None:
    """Write curves as text in columns.

    Parameters
    ----------
    path
        Of the file.
    time
        Shape ``(n,)``, ms.
    columns
        ``name [unit]`` to values, shape ``(n,)``.
    digits
        Significant digits of the values.
    """
    form = ",".join(["%.6g", *[f"%.{digits}g"] * len(columns)])
    rows = np.column_stack([time, *columns.values()]).tolist()
    header = ",".join(["time [ms]", *columns])
    path.parent.mkdir(parents=True, exist_ok=True)
    # Not correlate.files.write_text, which waits for the disk.
    path.write_text("\n".join([header, *(form % tuple(row) for row in rows), ""]), encoding="utf-8")


def scattered(values: Mapping[str, float], share: float, random: np.random.Generator) -> dict[str, float]:
    """Multiply each value by a log-normal factor of about this standard deviation."""
    return {name: value * float(np.exp(share * random.standard_normal())) for name, value in values.items()}


def smooth_noise(count: int, width: float, random: np.random.Generator) -> Floats:
    """Return noise of standard deviation 1 that is correlated over so many samples, shape ``(count,)``."""
    noise = gaussian_filter1d(random.standard_normal(count), width, mode="wrap")
    return np.asarray(noise / noise.std())
