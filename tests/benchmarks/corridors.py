"""How often further tests lie inside corridors of few repeats, and how often a repeat is called unlike."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate import Signal
from correlate.reference.corridor import prediction_corridor, share_within, spread_corridor
from correlate.reference.repeats import repeat_set
from correlate.reference.whole_curve import unlike_repeats, whole_curve_corridor
from tests.benchmarks.hardware_scatter import RECIPE, REPEATS, SAMPLES, SHAPES, Shape, scatter_of

if TYPE_CHECKING:
    from collections.abc import Iterator

    from numpy.typing import NDArray

    from correlate.reference.corridor import Corridor
    from correlate.reference.repeats import RepeatSet

SETS: Final = 2000
"""Random sets of repeats of a kind and number."""
SEED: Final = 90_417
KINDS: Final = ("normal", "heavy tails", "two batches")
DEVIATIONS: Final = (4, 6)
"""Of a repeat that is unlike the others, in standard deviations."""


def plateau(random: np.random.Generator, kind: str) -> Signal:
    """Return one repeat of a force that rises, stays and falls: level, rise, start and end scatter."""
    return _plateau(scatter_of(random, kind, 4), 0.005 * random.standard_normal(SAMPLES))


def _plateau(
    z: NDArray[np.float64],
    noise: NDArray[np.float64] | float = 0.0,
    *,
    size: float = 1.0,
    late_s: float = 0.0,
) -> Signal:
    time = np.arange(SAMPLES) * 1e-4 - late_s
    rise = np.tanh((time - 0.008 - 2e-4 * z[1]) / (0.0015 * (1 + 0.1 * z[2])))
    fall = np.tanh((time - 0.028 - 5e-4 * z[3]) / 0.003)
    samples = size * (1 + 0.03 * z[0]) * (rise - fall) / 2 + noise
    return Signal(samples=samples, start_s=0.0, step_s=1e-4, unit="kN", channel="force")


CURVES: Final = {
    **SHAPES,
    "plateau": Shape(
        plateau, lambda size, late_s: _plateau(np.zeros(4), size=size, late_s=late_s), 0.03, 2e-4
    ),
}
"""The width of the band for whole curves was adjusted on oscillations, with another seed; the plateau was
added afterwards and changed nothing."""


@dataclass(frozen=True, slots=True)
class Coverage:
    """Shares of sets of repeats, or of instants.

    Attributes
    ----------
    one_sd, two_sd, prediction
        Instants at which a further test lies inside mean ± 1 and ± 2 SD and inside the prediction band.
    prediction_whole, whole
        Further tests that lie at all instants inside the prediction band, and inside that for whole curves.
    """

    one_sd: float
    two_sd: float
    prediction: float
    prediction_whole: float
    whole: float


def drawn(shape: str, kind: str, random: np.random.Generator, count: int) -> RepeatSet:
    """Return random repeats, not moved."""
    return still([CURVES[shape].repeat(random, kind) for _ in range(count)])


def still(signals: list[Signal]) -> RepeatSet:
    """Return repeats where they were recorded."""
    return repeat_set(signals, RECIPE, largest_shift_s=0.0)


def coverage(shape: str, kind: str, count: int, *, sets: int = SETS, seed: int = SEED) -> Coverage:
    """Draw repeats and a further test, and see what lies inside."""
    random = np.random.default_rng([seed, count])
    found = np.zeros(5)
    for _ in range(sets):
        repeats = drawn(shape, kind, random, count)
        further = CURVES[shape].repeat(random, kind).samples
        inside = [
            _inside(corridor, further)
            for corridor in (
                spread_corridor(repeats),
                spread_corridor(repeats, times=2.0),
                prediction_corridor(repeats),
                whole_curve_corridor(repeats),
            )
        ]
        found += [*(one.mean() for one in inside[:3]), inside[2].all(), inside[3].all()]
    return Coverage(*(found / sets).tolist())


def _inside(corridor: Corridor, curve: NDArray[np.float64]) -> NDArray[np.bool_]:
    return np.asarray((curve >= corridor.lower) & (curve <= corridor.upper))


def called_unlike(
    shape: str, kind: str, count: int, *, high: float = 0.0, late: float = 0.0, sets: int = SETS
) -> float:
    """Return how often a repeat is called unlike the others, which one is by so many standard deviations."""
    random = np.random.default_rng([SEED, count, 1])
    what, alarms = CURVES[shape], 0
    for _ in range(sets):
        signals = [what.repeat(random, kind) for _ in range(count)]
        if high or late:
            signals[0] = what.model(1 + high * what.size_sd, late * what.late_sd_s)
        outcome = unlike_repeats(still(signals))
        called = () if outcome is None else outcome.unlike()
        alarms += 0 in called if high or late else bool(called)
    return alarms / sets


def report() -> Iterator[str]:
    """Print the tables of ``docs/statistics-hardware.md``."""
    yield "| repeats | ± 1 SD, Student's t | ± 2 SD, Student's t |\n| ---: | ---: | ---: |"
    for count in REPEATS:
        yield f"| {count} | {share_within(1, count):.1%} | {share_within(2, count):.1%} |"
    yield f"\n{SETS} sets of repeats a line (%)"
    heads = ("± 1 SD", "± 2 SD", "95 % at each instant", "the same, whole curve", "95 % whole curve")
    yield f"| shape | scatter | repeats | {' | '.join(heads)} |"
    yield "| --- | --- | ---: |" + " ---: |" * len(heads)
    for shape in CURVES:
        for kind in KINDS:
            for count in REPEATS:
                one = coverage(shape, kind, count)
                values = (one.one_sd, one.two_sd, one.prediction, one.prediction_whole, one.whole)
                yield f"| {shape} | {kind} | {count} | {' | '.join(f'{100 * x:.1f}' for x in values)} |"
    yield "\nA repeat is called unlike the others (%)"
    cases = [(name, times) for times in DEVIATIONS for name in ("high", "late")]
    yield f"| shape | scatter | repeats | false alarms | {' | '.join(f'{t} SD {n}' for n, t in cases)} |"
    yield "| --- | --- | ---: | ---: |" + " ---: |" * len(cases)
    for shape in CURVES:
        for kind in KINDS:
            for count in REPEATS:
                found = [called_unlike(shape, kind, count)]
                if kind == "normal":
                    found += [
                        called_unlike(shape, kind, count, **{name: float(times)}, sets=SETS // 4)
                        for name, times in cases
                    ]
                yield f"| {shape} | {kind} | {count} | {' | '.join(f'{100 * x:.1f}' for x in found)} |"
