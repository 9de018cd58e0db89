"""How often a further repeat and a wrong model are called beyond the scatter of the hardware."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate import Recipe, Signal
from correlate.reference.repeatability import loss_ratio, rated_against_the_mean
from correlate.reference.scatter import hardware_scatter
from correlate.statistics import mean_estimate

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

COMPONENTS: Final = ("corridor", "phase", "magnitude", "slope")
REPEATS: Final = (3, 4, 5, 7, 10)
LABORATORIES: Final = 1000
"""Random sets of repeats of a kind and number."""
SEED: Final = 41_077
SAMPLES: Final = 400
SIZE_SD: Final = 0.04
LATE_SD_S: Final = 2.4e-4
RECIPE: Final = Recipe(start_s=0.0, end_s=(SAMPLES - 1) * 1e-4)


def curve(random: np.random.Generator, kind: str, *, size: float = 1.0, late_s: float = 0.0) -> Signal:
    """Return one repeat: a push with rebound whose size, time, width and shape scatter, with noise.

    Parameters
    ----------
    random
        Source of the scatter.
    kind
        ``normal``, ``heavy tails`` (Student's t with 4 degrees of freedom) or ``two batches`` (the size
        falls into two groups).
    size, late_s
        Of a model that is off in these.
    """
    z = random.standard_t(4, 5) / np.sqrt(2) if kind == "heavy tails" else random.standard_normal(5)
    if kind == "two batches":
        z[0] = np.sign(z[0]) + 0.2 * z[0]
    time = np.arange(SAMPLES) * 1e-4
    begin, width = 0.006 + late_s + LATE_SD_S * z[1], 0.016 * (1 + 0.03 * z[2])
    phase = (time - begin) / width
    push = np.sin(np.pi * np.clip(phase, 0, 1)) ** 1.3
    back = 0.3 * (1 + 0.15 * z[3]) * np.sin(np.pi * np.clip((phase - 1) / 0.8, 0, 1))
    skew = 0.05 * z[4] * np.sin(2 * np.pi * np.clip(phase, 0, 1))
    samples = size * (1 + SIZE_SD * z[0]) * (push - back + skew) + 0.004 * random.standard_normal(SAMPLES)
    return Signal(samples=samples, start_s=0.0, step_s=1e-4, unit="kN", channel="force")


def beyond(random: np.random.Generator, kind: str, count: int, *, size: float, late_s: float) -> Floats:
    """Return whether a curve beside `count` repeats is called beyond their scatter, by component."""
    repeats = [curve(random, kind) for _ in range(count)]
    other = curve(random, kind, size=size, late_s=late_s)
    found = hardware_scatter(repeats, RECIPE, model=other)
    assert found is not None
    return np.array([found.holds(name) is False for name in COMPONENTS])


def shares(
    kind: str,
    count: int,
    *,
    size: float = 1.0,
    late_s: float = 0.0,
    sets: int = LABORATORIES,
    seed: int = SEED,
) -> dict[str, float]:
    """Return how often a curve is called beyond the scatter, by component."""
    random = np.random.default_rng([seed, count])
    found = [beyond(random, kind, count, size=size, late_s=late_s) for _ in range(sets)]
    return dict(zip(COMPONENTS, np.mean(found, axis=0).tolist(), strict=True))


def coverage(count: int, *, sets: int = LABORATORIES, seed: int = SEED) -> float:
    """Return how often Student's 95 % interval of the mean rating of a model holds the true mean."""
    random = np.random.default_rng([seed, count, 1])
    model = curve(np.random.default_rng(5), "normal", size=0.88, late_s=6e-4)
    drawn = [
        rated_against_the_mean([curve(random, "normal")], model, RECIPE).overall for _ in range(sets * count)
    ]
    truth = float(np.mean(drawn))
    groups = np.reshape(drawn, (sets, count))
    estimates = [mean_estimate(group.tolist()) for group in groups]
    return float(np.mean([one is not None and one.lower() <= truth <= one.upper() for one in estimates]))


def typical_ratio(count: int, size: float, *, sets: int = 200, seed: int = SEED) -> tuple[float, float]:
    """Return median share of the ceiling and median loss ratio of a model of another size, else perfect."""
    random = np.random.default_rng([seed, count, 2])
    model, values = perfect(size), []
    for _ in range(sets):
        repeats = [curve(random, "normal") for _ in range(count)]
        scatter = hardware_scatter(repeats, RECIPE)
        assert scatter is not None
        rating = float(np.mean([rated_against_the_mean([one], model, RECIPE).overall for one in repeats]))
        values.append((rating / scatter.rating, loss_ratio(rating, scatter.rating) or 0.0))
    share, ratio = np.median(values, axis=0)
    return float(share), float(ratio)


def perfect(size: float) -> Signal:
    """Return the curve around which the repeats scatter, times a size."""
    time = np.arange(SAMPLES) * 1e-4
    phase = (time - 0.006) / 0.016
    push = np.sin(np.pi * np.clip(phase, 0, 1)) ** 1.3
    back = 0.3 * np.sin(np.pi * np.clip((phase - 1) / 0.8, 0, 1))
    return Signal(samples=size * (push - back), start_s=0.0, step_s=1e-4, unit="kN", channel="force")


def report() -> Iterator[str]:
    """Print the tables of ``docs/statistics-hardware.md``."""
    yield f"{LABORATORIES} sets of repeats a line, called beyond the scatter (%)"
    yield "| curve | scatter | repeats | corridor | phase | magnitude | slope |"
    yield "| --- | --- | ---: | ---: | ---: | ---: | ---: |"
    for kind in ("normal", "heavy tails", "two batches"):
        for count in REPEATS:
            yield _row("a further repeat", kind, count, shares(kind, count))
    for times in (1, 2, 3):
        for count in (3, 5, 10):
            high = shares("normal", count, size=1 + times * SIZE_SD)
            yield _row(f"{times} SD too high", "normal", count, high)
    for times in (2, 4):
        for count in (3, 5, 10):
            late = shares("normal", count, late_s=times * LATE_SD_S)
            yield _row(f"{times} SD late", "normal", count, late)
    yield ""
    yield "| repeats | 95 % interval of the mean rating holds it | "
    yield "| ---: | ---: |"
    for count in (3, 4, 5, 10):
        yield f"| {count} | {coverage(count):.1%} |"
    yield ""
    yield "| model | share of the ceiling | loss ratio |"
    yield "| --- | ---: | ---: |"
    for times in (0, 1, 2, 3):
        share, ratio = typical_ratio(5, 1 + times * SIZE_SD)
        yield f"| {times} SD too high, else perfect, 5 repeats | {share:.1%} | {ratio:.2f} |"


def _row(words: str, kind: str, count: int, found: dict[str, float]) -> str:
    cells = " | ".join(f"{100 * found[name]:.1f}" for name in COMPONENTS)
    return f"| {words} | {kind} | {count} | {cells} |"
