"""How time grows with size: cost models, fitted to measured sizes."""

from __future__ import annotations

import functools
import math
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from correlate import hic, rate
from correlate.conditioning.filters import filter_cfc
from correlate.formats import read
from correlate.statistics import student_quantile
from tests.benchmarks.criteria import STEP_S, blow
from tests.benchmarks.filtering import CFC, noise
from tests.benchmarks.rating import crash_pulse
from tests.benchmarks.reading import random_walks, write_both
from tests.benchmarks.table import seconds

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SIZES = (750, 1_500, 3_000, 6_000, 12_000, 24_000, 48_000)
CHANNELS = 16
LAST = 4
"""Largest sizes that the exponent is fitted to."""

HEADING = (
    f"| n = {SIZES[0]:,} … {SIZES[-1]:,} | ms at {SIZES[1]:,} | ms at {SIZES[-1]:,} | fitted time "
    "| worst residual | exponent over the last four (95 % interval) |\n"
    "| --- | ---: | ---: | --- | ---: | ---: |"
)


@dataclass(frozen=True, slots=True, eq=False)
class Growth:
    """How the time of one thing grows.

    Attributes
    ----------
    name
        What was timed.
    rounds
        Seconds: a row a round, a column a size of ``SIZES``.
    shares
        Powers of the size whose weighted sum is fitted: ``(0, 1)`` for a fixed and a linear part.
    """

    name: str
    rounds: Floats
    shares: tuple[int, ...]

    def __str__(self) -> str:
        """Return the row of the table."""
        sizes, spent = np.array(SIZES, dtype=np.float64), np.median(self.rounds, axis=0)
        design = sizes[:, None] ** np.array(self.shares)
        # Relative errors weigh alike at all sizes, and no part of a time is negative.
        weights = _non_negative(design / spent[:, None])
        fitted = design @ weights
        parts = " + ".join(
            _words(weight, power) for weight, power in zip(weights, self.shares, strict=True) if weight > 0
        )
        power, low, high = self.exponent()
        worst = np.abs(fitted / spent - 1).max()
        ends = f"{spent[1] * 1e3:.3g} | {spent[-1] * 1e3:.3g}"
        return f"| {self.name} | {ends} | {parts} | {worst:.0%} | {power:.2f} ({low:.2f}–{high:.2f}) |"

    def exponent(self) -> tuple[float, float, float]:
        """Return the exponent over the last sizes and its interval."""
        return exponent(np.array(SIZES[-LAST:]), self.rounds[:, -LAST:])


def growths() -> Iterator[Growth]:
    """Time each size in turn, several rounds."""
    yield _growth("rating", [functools.partial(rate, crash_pulse(size)) for size in SIZES], (0, 1, 2))
    yield _growth(f"CFC {CFC}", [functools.partial(filter_cfc, noise(size), CFC) for size in SIZES], (0, 1))
    search = functools.partial(hic, step_s=STEP_S, window_s=0.036)
    yield _growth("HIC36", [functools.partial(search, blow(size)) for size in SIZES], (0, 1))
    with tempfile.TemporaryDirectory() as folder:
        places = [write_both(Path(folder), f"T{n}", random_walks(CHANNELS, n), 7) for n in SIZES]
        for index, what in enumerate(("ISO/TS 13499 folder", "delimited text")):
            calls = [functools.partial(read, place[index]) for place in places]
            yield _growth(f"reading {what}, {CHANNELS} channels", calls, (0, 1))


def _growth(
    name: str, calls: Sequence[Callable[[], object]], shares: tuple[int, ...], rounds: int = 7
) -> Growth:
    for call in calls:
        call()
    times = np.array([[seconds(call) for call in calls] for _ in range(rounds)])
    return Growth(name, times, shares)


def exponent(sizes: Floats, rounds: Floats) -> tuple[float, float, float]:
    """Return the exponent of a power law and its 95 % interval.

    Each round gives a slope on logarithmic scales. What slows down a whole round moves all its times alike
    and leaves its slope; the slopes of the rounds are independent, so Student's interval of their mean holds.

    Parameters
    ----------
    sizes
        Shape ``(k,)``.
    rounds
        Seconds, shape ``(r, k)``.

    Returns
    -------
    exponent, low, high : float
    """
    logarithms = np.log(sizes) - np.log(sizes).mean()
    slopes = np.log(rounds) @ logarithms / (logarithms @ logarithms)
    error = slopes.std(ddof=1) / math.sqrt(slopes.size)
    half = student_quantile(0.975, slopes.size - 1) * error
    return float(slopes.mean()), float(slopes.mean() - half), float(slopes.mean() + half)


def _non_negative(design: np.ndarray[tuple[int, int], np.dtype[np.float64]]) -> list[float]:
    from scipy.optimize import nnls  # noqa: PLC0415 - slow to import

    # Columns of one size: those of a fixed and of a quadratic part differ by ten powers of ten.
    scale = np.linalg.norm(design, axis=0)
    found, _ = nnls(design / scale, np.ones(design.shape[0]))
    return list((found / scale).tolist())


def _words(weight: float, power: int) -> str:
    if power == 0:
        return f"{weight * 1e6:.3g} µs"
    unknown = "n" if power == 1 else f"n^{power}"
    return f"{weight * 1e9:.3g} ns · {unknown}"
