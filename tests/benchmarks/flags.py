"""How often each warning beside a rating is right, and how often it is raised for nothing."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

import numpy as np

from correlate import AlignedPair, rate_many
from correlate.conditioning import filter_cfc
from correlate.signal import Signal

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]
    Curve = Callable[[Floats], Floats]

PAIRS: Final = 400
"""Random pairs of a kind."""
SAMPLES: Final = 1000
SEED: Final = 20_261


def half_sine(start: float, length: float) -> Curve:
    """Return a half-sine pulse; times are shares of the interval."""
    return lambda time: np.asarray(np.sin(np.pi * np.clip((time - start) / length, 0, 1)))


def events(random: np.random.Generator) -> Curve:
    """Return a random single event: a pulse, a push with rebound, or a damped ringing."""
    start, length = random.uniform(0.1, 0.3), random.uniform(0.15, 0.6)
    kind = random.integers(3)
    if kind == 0:
        power = random.uniform(1.0, 2.0)
        return lambda time: half_sine(start, length)(time) ** power
    if kind == 1:
        share = random.uniform(0.2, 0.8)
        back = half_sine(start + length, length)
        return lambda time: half_sine(start, length)(time) - share * back(time)
    cycles, damping = random.uniform(2, 8), random.uniform(0.05, 0.3)

    def ringing(time: Floats) -> Floats:
        after = np.clip(time - start, 0, None)
        omega = 2 * np.pi * cycles
        return np.asarray(np.exp(-damping * omega * after) * np.sin(omega * after))

    return ringing


def ramps(random: np.random.Generator) -> Curve:
    """Return a curve that only rises: a straight or gently bent ramp."""
    bend = random.uniform(0.0, 0.1)
    return lambda time: np.asarray(0.1 + time + bend * time**2)


def noise(random: np.random.Generator, cfc: int) -> Floats:
    """Return filtered independent noise."""
    raw = Signal(
        samples=random.standard_normal(SAMPLES + 400), start_s=0.0, step_s=1e-4, unit="1", channel="noise"
    )
    return np.asarray(filter_cfc(raw, cfc).samples[200:-200])


def shares(pairs: list[AlignedPair]) -> dict[str, float]:
    """Return how many of the pairs have each warning, as shares."""
    names = [{flag.name for flag in rating.flags} for rating in rate_many(pairs)]
    return {name: sum(name in one for one in names) / len(names) for name in sorted(set().union(*names))}


def pair_of(reference: Floats, candidate: Floats) -> AlignedPair:
    """Return a pair at the published step."""
    return AlignedPair(time=np.arange(reference.size) * 1e-4, reference=reference, candidate=candidate)


def late_pairs(
    random: np.random.Generator, make: Callable[[np.random.Generator], Curve]
) -> list[AlignedPair]:
    """Return models that are late by 1 to 15 % of the interval, of another size, with noise."""
    time = np.arange(SAMPLES) / SAMPLES
    found = []
    for _ in range(PAIRS):
        curve, late = make(random), random.uniform(0.01, 0.15)
        scatter = 0.01 * random.standard_normal((2, SAMPLES))
        found.append(
            pair_of(curve(time) + scatter[0], random.uniform(0.8, 1.2) * curve(time - late) + scatter[1])
        )
    return found


def alike_pairs(random: np.random.Generator) -> list[AlignedPair]:
    """Return ramps that differ by up to 5 % in size and bend."""
    time = np.arange(SAMPLES) / SAMPLES
    found = []
    for _ in range(PAIRS):
        curve = ramps(random)
        other = random.uniform(0.95, 1.05) * curve(time) + random.uniform(-0.05, 0.05) * time**2
        found.append(pair_of(curve(time), other))
    return found


def report() -> Iterator[str]:
    """Measure every kind; each line says which warnings were raised and how often."""
    random = np.random.default_rng(SEED)
    late = late_pairs(random, events)
    alike = alike_pairs(random)
    lost = [rating.phase < 0.95 for rating in rate_many(alike)]
    alike = [pair for pair, loses in zip(alike, lost, strict=True) if loses]
    kinds = {
        f"{PAIRS} single events, the model 1 to 15 % of the interval late": late,
        f"{len(alike)} ramps that differ by up to 5 % and lose 0.05 of phase or more": alike,
        **{
            f"{PAIRS} pairs of independent noise, CFC {cfc}": [
                pair_of(noise(random, cfc), noise(random, cfc)) for _ in range(PAIRS)
            ]
            for cfc in (180, 600, 1000)
        },
    }
    yield "| pairs | warnings raised | mean rating |\n| --- | --- | ---: |"
    for words, pairs in kinds.items():
        raised = ", ".join(f"{name} {share:.1%}" for name, share in shares(pairs).items()) or "none"
        mean = np.mean([rating.overall for rating in rate_many(pairs)])
        yield f"| {words} | {raised} | {mean:.2f} |"
