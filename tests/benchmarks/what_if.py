"""How quick the what-if is, and how near a far wider search comes: ``python -m tests.benchmarks.what_if``."""

from __future__ import annotations

import time
from typing import TYPE_CHECKING, Final

import numpy as np
from scipy.optimize import Bounds, differential_evolution

from correlate import AlignedPair, rate
from correlate.diagnosis.what_if import apply_change, what_if

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SAMPLES: Final = 1500
PAIRS: Final = 20
WIDE: Final = 8
"""Pairs on which the wide search is run: about 3,000 ratings each."""
SEED: Final = 20263
TIME: Final[Floats] = np.arange(SAMPLES, dtype=np.float64) * 1e-4


def curve(random: np.random.Generator) -> Floats:
    """Return a sum of four bumps of either sign."""
    bumps = [
        random.uniform(-100, 100)
        * np.exp(-(((TIME - random.uniform(0.02, 0.12)) / random.uniform(0.004, 0.02)) ** 2))
        for _ in range(4)
    ]
    return np.asarray(sum(bumps), dtype=np.float64)


def pair(random: np.random.Generator) -> AlignedPair:
    """Return a test, and a model that is late or early, slow, scaled, offset, and wrong in shape too."""
    test = curve(random)
    asked = (TIME - random.uniform(-0.004, 0.004)) / random.uniform(0.9, 1.1)
    model = random.uniform(0.7, 1.4) * np.interp(asked, TIME, test) + random.uniform(-8, 8)
    return AlignedPair(time=TIME, reference=test, candidate=model + 0.15 * curve(random))


def widely_searched(one: AlignedPair) -> float:
    """Return the highest rating that differential evolution finds within the same bounds, on all samples.

    Parameters
    ----------
    one
        Shape ``(n,)``.

    Returns
    -------
    float
        Of the whole pair.
    """
    unit = float(np.abs(one.reference).max())

    def lost(values: Floats) -> float:
        shift_s, scale, offset, stretch = values.tolist()
        moved = apply_change(one, shift_s=shift_s, scale=scale, offset=offset, stretch=stretch)
        return -rate(moved).overall

    bounds = Bounds([-0.03, 1 / 3, -0.5 * unit, 0.7], [0.03, 3.0, 0.5 * unit, 1.4])
    found = differential_evolution(lost, bounds, rng=SEED, maxiter=60, popsize=12, polish=False)
    return float(-found.fun)


if __name__ == "__main__":
    random = np.random.default_rng(SEED)
    pairs = [pair(random) for _ in range(PAIRS)]
    what_if(pairs[0])
    spent, best = [], []
    for one in pairs:
        begin = time.process_time()
        best.append(what_if(one).together.rating.overall)
        spent.append(1e3 * (time.process_time() - begin))
    print(f"{SAMPLES} samples: {np.median(spent):.0f} ms of processor time, at most {max(spent):.0f} ms")
    behind = [widely_searched(one) - found for one, found in zip(pairs[:WIDE], best[:WIDE], strict=True)]
    print(f"wide search higher by {np.mean(behind):+.4f} on average, at most {max(behind):+.4f}")
