"""The evidence for hints: one row of numbers for all channels and load cases that one cause must explain."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, Final, Literal

import numpy as np

from correlate.diagnosis.hints.numbers import curve_numbers, law_numbers, momentum_numbers, paths

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from numpy.typing import NDArray

    from correlate.pair import AlignedPair

    Floats = NDArray[np.float64]


Role = Literal["rig", "acceleration", "force", "travel"]
"""What a channel measures: acceleration of the rig, of the dummy, a force or moment, a travel or angle."""
LAWS: Final[tuple[Role, ...]] = ("force", "rig", "acceleration")
"""Loads that are held against a travel."""
RATIOS: Final[tuple[tuple[Role, Role], ...]] = (
    ("force", "rig"),
    ("force", "acceleration"),
    ("acceleration", "rig"),
)
"""Loads whose ratio is a mass."""
LEAST_GROWTH: Final = 1.1
"""Load cases are of different speed where peaks differ by this factor (choice made here)."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class EvidenceChannel:
    """A channel whose difference is to be explained.

    Attributes
    ----------
    name
        For people.
    load_case
        Channels of one load case belong to one event; the same name in several is the same channel.
    role
        What it measures.
    pair
        Test and model, filtered and without offset.
    """

    name: str
    load_case: str = ""
    role: Role
    pair: AlignedPair


def numbers_of(channels: Iterable[EvidenceChannel]) -> dict[str, float]:
    """Return the numbers of all channels together.

    Parameters
    ----------
    channels
        Of one or several load cases.

    Returns
    -------
    dict of str to float
        Name to number: "force: peak" is the mean over the load cases, "force: peak, growth" the difference
        between the most and the least severe one. Empty where nothing differs.
    """
    listed = list(channels)
    cases = [
        [one for one in listed if one.load_case == name]
        for name in dict.fromkeys(one.load_case for one in listed)
    ]
    found = [_of_case(case) for case in cases]
    sizes = [size for _, size in found if size > 0.0]
    if not sizes:
        return {}
    size = float(np.sqrt(np.mean(np.square(sizes))))
    rows = [row for row, _ in found]
    names = dict.fromkeys(name for row in rows for name in row)
    numbers = {name: float(np.mean([row[name] for row in rows if name in row])) / size for name in names}
    least, most = _by_severity(cases)
    if least != most:
        numbers |= {
            f"{name}, growth": (rows[most][name] - rows[least][name]) / size
            for name in names
            if name in rows[most] and name in rows[least]
        }
    return numbers | {"size": size}


def _by_severity(cases: Sequence[Sequence[EvidenceChannel]]) -> tuple[int, int]:
    """Return the numbers of the least and the most severe load case; twice the same where none differ."""
    peaks = [{one.name: float(np.abs(one.pair.reference).max()) for one in case} for case in cases]
    shared = set.intersection(*(set(one) for one in peaks))
    if len(cases) < 2 or not shared:
        return 0, 0
    severity = [float(np.mean([np.log(one[name]) for name in sorted(shared)])) for one in peaks]
    least, most = int(np.argmin(severity)), int(np.argmax(severity))
    return (least, most) if severity[most] - severity[least] > np.log(LEAST_GROWTH) else (0, 0)


def _of_case(channels: Sequence[EvidenceChannel]) -> tuple[dict[str, float], float]:
    """Return the numbers of one load case, and the size of its differences in shares of the peaks."""
    sizes = [difference_size(one.pair) for one in channels]
    row: dict[str, float] = {}
    for role in ("rig", "acceleration", "force", "travel"):
        own = [
            (curve_numbers(one.pair.reference, one.pair.candidate), size)
            for one, size in zip(channels, sizes, strict=True)
            if one.role == role
        ]
        row |= _mean([one for one in own if one[0]], role)
    for role in LAWS:
        own = [
            (law_numbers(_ends(load), _ends(travel)), 1.0)
            for load, travel in _couples(channels, role, "travel")
        ]
        row |= _mean(own, f"{role} by travel")
    for role in LAWS:
        own = [(law_numbers(_ends(load), path), 1.0) for load, path in _along_paths(channels, role)]
        row |= _mean(own, f"{role} by path")
    for first, second in RATIOS:
        own = [
            (momentum_numbers(_ends(one), _ends(other)), 1.0)
            for one, other in _couples(channels, first, second)
        ]
        row |= _mean(own, f"{first} to {second}")
    return row, float(np.sqrt(np.mean(np.square(sizes)))) if sizes else 0.0


def _along_paths(
    channels: Sequence[EvidenceChannel], role: Role
) -> Iterator[tuple[EvidenceChannel, tuple[Floats, Floats]]]:
    """Yield loads with the paths of the accelerations: of the dummy's for a force, else each with its own."""
    loads = [one for one in channels if one.role == role]
    if role == "force":
        moving = [one for one in channels if one.role == "acceleration"]
        yield from ((load, paths(*_ends(one), stopped=False)) for load, one in product(loads, moving))
    else:
        yield from ((one, paths(*_ends(one), stopped=role == "rig")) for one in loads)


def difference_size(pair: AlignedPair) -> float:
    """Return the root mean square of the difference where the test is above a tenth of its peak, in peaks."""
    size = np.abs(pair.reference)
    within = size >= 0.1 * size.max()
    return float(np.sqrt(np.mean((pair.candidate - pair.reference)[within] ** 2)) / size.max())


def _ends(channel: EvidenceChannel) -> tuple[Floats, Floats]:
    return channel.pair.reference, channel.pair.candidate


def _couples(
    channels: Sequence[EvidenceChannel], first: Role, second: Role
) -> Iterator[tuple[EvidenceChannel, EvidenceChannel]]:
    ones = [one for one in channels if one.role == first]
    others = [one for one in channels if one.role == second]
    yield from product(ones, others)


def _mean(rows: Sequence[tuple[dict[str, float] | None, float]], role: str) -> dict[str, float]:
    """Return the mean of rows of numbers, each by its weight."""
    kept = [(row, weight + 1e-9) for row, weight in rows if row]
    whole = sum(weight for _, weight in kept)
    if not kept:
        return {}
    return {f"{role}: {name}": sum(row[name] * weight for row, weight in kept) / whole for name in kept[0][0]}
