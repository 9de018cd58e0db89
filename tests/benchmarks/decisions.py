"""How often "better", "worse" and "no worse than" are wrong, on ratings of random repeats."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate import AlignedPair, rate_many
from correlate.statistics import mean_estimate, weighted_sum
from tests.benchmarks.hardware_scatter import SAMPLES, curve, perfect

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

REPEATS: Final = (3, 4, 5, 10)
POOL: Final = 12_000
"""Random repeats against which both models are rated; laboratories draw theirs from them."""
SEED: Final = 7_302
MARGIN: Final = 0.02
WEIGHTS: Final = (0.4, 0.3, 0.2, 0.1)
"""Of four load cases with 3, 5, 4 and 3 repeats."""
CASE_REPEATS: Final = (3, 5, 4, 3)


@dataclass(frozen=True, slots=True)
class Pool:
    """Ratings of two models against the same random repeats.

    Attributes
    ----------
    first, second
        Shape ``(repeats,)``. Their means differ by what chance leaves over all repeats.
    """

    first: Floats
    second: Floats

    @property
    def difference(self) -> float:
        """The true difference: over all repeats."""
        return float((self.second - self.first).mean())


def pool_of(kind: str, *, size: float, wanted: float = 0.0, repeats: int = POOL, seed: int = SEED) -> Pool:
    """Rate a model that is too small and one that is late, which differ by a wanted amount in the mean.

    Parameters
    ----------
    kind
        Of the scatter, as in :func:`tests.benchmarks.hardware_scatter.curve`.
    size
        Of the first model.
    wanted
        How much more the second is to be rated.
    repeats, seed
        Of the pool.
    """
    random = np.random.default_rng(seed)
    tests = [np.asarray(curve(random, kind).samples) for _ in range(repeats)]
    first = ratings(tests, np.asarray(perfect(size).samples))
    late = _late_for(tests[:400], float(first[:400].mean()) + wanted)
    second = ratings(tests, late)
    # What is left of the wanted difference is taken off: the pool is the whole truth here.
    return Pool(first, np.clip(second + (first.mean() + wanted - second.mean()), 0.0, 1.0))


def ratings(tests: list[Floats], model: Floats) -> Floats:
    """Rate one model against every repeat."""
    time = np.arange(SAMPLES) * 1e-4
    pairs = [AlignedPair(time=time, reference=test, candidate=model) for test in tests]
    return np.array([rating.overall for rating in rate_many(pairs)])


def _late_for(tests: list[Floats], wanted: float) -> Floats:
    """Return the model that is late by so much that its mean rating is the wanted one."""
    model, time = np.asarray(perfect(1.0).samples), np.arange(SAMPLES) * 1e-4
    low, high = 0.0, 0.006
    for _ in range(12):
        middle = (low + high) / 2
        shifted = np.interp(time - middle, time, model)
        low, high = (middle, high) if ratings(tests, shifted).mean() > wanted else (low, middle)
    return np.asarray(np.interp(time - low, time, model))


def calls(pool: Pool, count: int) -> dict[str, float]:
    """Return how often laboratories with so many repeats make each call."""
    groups = len(pool.first) // count
    pairs = (pool.second - pool.first)[: groups * count].reshape(groups, count)
    singles = [one[: groups * count].reshape(groups, count) for one in (pool.first, pool.second)]
    found = [mean_estimate(group.tolist()) for group in pairs]
    known = [one for one in found if one is not None]
    # The rule that was used before: the difference of means against the larger standard deviation.
    larger = np.maximum(*(one.std(axis=1, ddof=1) for one in singles))
    truth = pool.difference
    return {
        "better": float(np.mean([one.verdict() == "better" for one in known])),
        "worse": float(np.mean([one.verdict() == "worse" for one in known])),
        "no worse": float(np.mean([one.is_no_worse_than(MARGIN) for one in known])),
        "equivalent": float(np.mean([one.is_equivalent_within(MARGIN) for one in known])),
        "covered": float(np.mean([one.lower() <= truth <= one.upper() for one in known])),
        "unpaired": float(np.mean(np.abs(pairs.mean(axis=1)) > larger)),
    }


def release_calls(pools: list[Pool], laboratories: int, seed: int = SEED) -> dict[str, float]:
    """Return the same for a release of four load cases, whose repeats are independent."""
    random = np.random.default_rng([seed, 4])
    truth = sum(weight * pool.difference for weight, pool in zip(WEIGHTS, pools, strict=True))
    verdicts, covered, no_worse = [], [], []
    for _ in range(laboratories):
        parts = []
        for weight, pool, count in zip(WEIGHTS, pools, CASE_REPEATS, strict=True):
            drawn = random.integers(0, len(pool.first), count)
            estimate = mean_estimate((pool.second - pool.first)[drawn].tolist())
            assert estimate is not None
            parts.append((weight, estimate))
        total = weighted_sum(parts)
        assert total is not None
        verdicts.append(total.verdict())
        covered.append(total.lower() <= truth <= total.upper())
        no_worse.append(total.is_no_worse_than(MARGIN))
    return {
        "better": verdicts.count("better") / laboratories,
        "worse": verdicts.count("worse") / laboratories,
        "covered": float(np.mean(covered)),
        "no worse": float(np.mean(no_worse)),
    }


def report() -> Iterator[str]:
    """Print the tables of ``docs/statistics.md``."""
    yield f"Ratings of {POOL:,} random repeats a line; shares of laboratories in %."
    heads = ["scatter, first model", "true difference", "repeats", "better", "worse", "no worse than 0.02"]
    heads += ["equivalent within 0.02", "interval holds it", "different by the unpaired rule"]
    yield f"| {' | '.join(heads)} |"
    yield "| --- | ---: | ---: | ---: | ---: | ---: | ---: | ---: | ---: |"
    settings = [("normal", 0.88), ("normal", 0.97), ("heavy tails", 0.88), ("two batches", 0.88)]
    for kind, size in settings:
        ordinary = (kind, size) == ("normal", 0.88)
        for wanted in (0.0, -0.005, -0.01, -0.02, -0.05) if ordinary else (0.0, -0.02):
            pool = pool_of(kind, size=size, wanted=wanted)
            for count in REPEATS:
                found = calls(pool, count)
                cells = " | ".join(f"{100 * value:.1f}" for value in found.values())
                yield f"| {kind}, {size} | {pool.difference:+.3f} | {count} | {cells} |"
    yield ""
    yield "| release of four load cases | better | worse | interval holds it | no worse than 0.02 |"
    yield "| ---: | ---: | ---: | ---: | ---: |"
    for wanted in (0.0, -0.02, 0.02):
        pools = [
            pool_of("normal", size=size, wanted=wanted, repeats=4000, seed=SEED + place)
            for place, size in enumerate((0.88, 0.92, 0.85, 0.95))
        ]
        found = release_calls(pools, 4000)
        cells = " | ".join(f"{100 * value:.1f}" for value in found.values())
        yield f"| {wanted:+.3f} | {cells} |"
