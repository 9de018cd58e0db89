"""How often control charts, drift and step raise a false alarm, and how large a change they find."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.laboratory import changes
from correlate.laboratory.control_chart import control_chart

if TYPE_CHECKING:
    from collections.abc import Iterator

COUNTS: Final = (5, 8, 10, 15, 20, 30)
SERIES: Final = 10_000
"""Random series of a kind and number."""
QUANTITIES: Final = 5
"""Of a test, for the rate that anything in it is called a change."""
YEARS: Final = 2.0
SEED: Final = 60_522
SIZES: Final = (1.0, 2.0, 3.0, 4.0)
"""Changes over the whole time, in standard deviations of a single test."""


@dataclass(frozen=True, kw_only=True)
class Rates:
    """Shares of random series in which something is found."""

    outside: float
    range_above: float
    run: float
    newest: float
    drift: float
    step: float
    drift_or_step: float


def rates(
    count: int, *, series: int, seed: int, slope: float = 0.0, jump: float = 0.0, comparisons: int = 2
) -> Rates:
    """Simulate series of normal values of standard deviation 1, with a drift or a step in the middle."""
    random = np.random.default_rng([SEED, seed])
    years = np.linspace(0.0, YEARS, count)
    change = slope * years / YEARS + jump * (np.arange(count) >= count // 2)
    found = [_found(years, random.standard_normal(count) + change, comparisons) for _ in range(series)]
    means = np.mean(np.array(found, dtype=float), axis=0).tolist()
    return Rates(**dict(zip(Rates.__dataclass_fields__, means, strict=True)))


def _found(years: np.ndarray, values: np.ndarray, comparisons: int) -> tuple[bool, ...]:
    chart = control_chart(values.tolist())
    alarms = () if chart is None else chart.alarms
    every = {alarm for one in alarms for alarm in one}
    seen = changes(years.tolist(), values.tolist(), comparisons=comparisons)
    return (
        "outside the limits" in every,
        "range above its limit" in every,
        "run on one side" in every,
        bool(alarms and alarms[-1]),
        seen.is_drift,
        seen.is_step,
        seen.is_drift or seen.is_step,
    )


def of_a_test(count: int, *, tests: int) -> float:
    """Return how often any of several independent quantities of a test shows a drift or a step."""
    one = rates(count, series=tests * QUANTITIES, seed=1_000 + count, comparisons=2 * QUANTITIES)
    return 1.0 - (1.0 - one.drift_or_step) ** QUANTITIES


def report() -> Iterator[str]:
    """Measure false alarms, then what is found of real changes."""
    yield (
        "| tests | outside the limits | range above | run of 8 | newest test | drift or step | any of "
        f"{QUANTITIES} quantities |\n| ---: | ---: | ---: | ---: | ---: | ---: | ---: |"
    )
    for count in COUNTS:
        one = rates(count, series=SERIES, seed=count)
        cells = (one.outside, one.range_above, one.run, one.newest, one.drift_or_step)
        shares = [*cells, of_a_test(count, tests=SERIES // QUANTITIES)]
        yield f"| {count} | " + " | ".join(f"{share:.1%}" for share in shares) + " |"
    yield ""
    yield (
        "| tests | " + " | ".join(f"drift of {size:g} SD" for size in SIZES) + " | "
        + " | ".join(f"step of {size:g} SD" for size in SIZES) + " |\n| ---: |" + " ---: |" * 2 * len(SIZES)
    )  # fmt: skip
    for count in COUNTS:
        drifts = [rates(count, series=2_000, seed=count, slope=size).drift_or_step for size in SIZES]
        steps = [rates(count, series=2_000, seed=count, jump=size).drift_or_step for size in SIZES]
        yield f"| {count} | " + " | ".join(f"{share:.0%}" for share in [*drifts, *steps]) + " |"
