"""The evidence for hints: one row of numbers for all channels and load cases that one cause must explain."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from operator import itemgetter, mul
from typing import TYPE_CHECKING, Final, Literal, get_args

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


@dataclass(frozen=True, slots=True, kw_only=True)
class _Part:
    """Numbers of one channel, or of two together, and how much they count in the mean of their place."""

    place: str
    channels: tuple[str, ...]
    numbers: dict[str, float]
    weight: float = 1.0


@dataclass(frozen=True, slots=True, kw_only=True)
class _Case:
    """One load case: for each channel the size of its differences and the peak of the test, and the parts."""

    channels: tuple[str, ...]
    sizes: tuple[float, ...]
    peaks: tuple[float, ...]
    parts: tuple[_Part, ...]

    def without(self, channel: str) -> _Case:
        """Return what is left without a channel."""
        kept = [one for one in zip(self.channels, self.sizes, self.peaks, strict=True) if one[0] != channel]
        names, sizes, peaks = zip(*kept, strict=True) if kept else ((), (), ())
        parts = tuple(part for part in self.parts if channel not in part.channels)
        return _Case(channels=names, sizes=sizes, peaks=peaks, parts=parts)

    @property
    def size(self) -> float:
        """Size of the differences of all channels, in shares of the peaks."""
        return float(np.sqrt(np.mean(np.square(self.sizes))))

    @property
    def row(self) -> dict[str, float]:
        """The mean of the parts of each place."""
        row: dict[str, float] = {}
        for place in dict.fromkeys(part.place for part in self.parts):
            row |= _mean(place, [part for part in self.parts if part.place == place])
        return row


class Evidence:
    """The numbers of channels of one or several load cases; each is computed once.

    Parameters
    ----------
    channels
        Of one or several load cases.
    """

    def __init__(self, channels: Iterable[EvidenceChannel]) -> None:
        by_case: dict[str, list[EvidenceChannel]] = {}
        for one in channels:
            by_case.setdefault(one.load_case, []).append(one)
        self._cases = [_case_of(case) for case in by_case.values()]

    @property
    def channels(self) -> tuple[str, ...]:
        """Names of the channels, each once."""
        return tuple(dict.fromkeys(name for case in self._cases for name in case.channels))

    def numbers(self) -> dict[str, float]:
        """Return the numbers of all channels together, as :func:`numbers_of`."""
        return _together(self._cases)

    def numbers_without(self, channel: str) -> dict[str, float]:
        """Return the numbers of all other channels."""
        left = [case.without(channel) for case in self._cases]
        return _together([case for case in left if case.channels])


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
    return Evidence(channels).numbers()


def _together(cases: Sequence[_Case]) -> dict[str, float]:
    sizes = [case.size for case in cases if case.size > 0.0]
    if not sizes:
        return {}
    size = float(np.sqrt(np.mean(np.square(sizes))))
    rows = [case.row for case in cases]
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


def _by_severity(cases: Sequence[_Case]) -> tuple[int, int]:
    """Return the numbers of the least and the most severe load case; twice the same where none differ."""
    peaks = [dict(zip(case.channels, case.peaks, strict=True)) for case in cases]
    shared = set.intersection(*(set(one) for one in peaks))
    if len(cases) < 2 or not shared:
        return 0, 0
    severity = [float(np.mean([np.log(one[name]) for name in sorted(shared)])) for one in peaks]
    least, most = int(np.argmin(severity)), int(np.argmax(severity))
    return (least, most) if severity[most] - severity[least] > np.log(LEAST_GROWTH) else (0, 0)


def _case_of(channels: Sequence[EvidenceChannel]) -> _Case:
    sizes = tuple(difference_size(one.pair) for one in channels)
    return _Case(
        channels=tuple(one.name for one in channels),
        sizes=sizes,
        peaks=tuple(float(np.abs(one.pair.reference).max()) for one in channels),
        parts=tuple(part for part in _parts(channels, sizes) if part.numbers),
    )


def _parts(channels: Sequence[EvidenceChannel], sizes: Sequence[float]) -> Iterator[_Part]:
    """Yield the numbers of each channel, of loads by travels and paths, and of loads by accelerations."""
    for role in get_args(Role):
        for one, size in zip(channels, sizes, strict=True):
            if one.role == role:
                found = curve_numbers(*_ends(one)) or {}
                yield _Part(place=role, channels=(one.name,), numbers=found, weight=size)
    for role in LAWS:
        for load, travel in _couples(channels, role, "travel"):
            yield _part(f"{role} by travel", (load, travel), law_numbers(_ends(load), _ends(travel)))
    for role in LAWS:
        for load, moving in _with_paths(channels, role):
            path = paths(*_ends(moving), stopped=role == "rig")
            yield _part(f"{role} by path", (load, moving), law_numbers(_ends(load), path))
    for first, second in RATIOS:
        for one, other in _couples(channels, first, second):
            yield _part(f"{first} to {second}", (one, other), momentum_numbers(_ends(one), _ends(other)))


def _part(
    place: str, channels: tuple[EvidenceChannel, EvidenceChannel], numbers: dict[str, float] | None
) -> _Part:
    return _Part(place=place, channels=tuple(one.name for one in channels), numbers=numbers or {})


def _with_paths(
    channels: Sequence[EvidenceChannel], role: Role
) -> Iterator[tuple[EvidenceChannel, EvidenceChannel]]:
    """Yield loads and the accelerations whose paths they follow: the dummy's for a force, else their own."""
    if role == "force":
        yield from _couples(channels, "force", "acceleration")
    else:
        yield from ((one, one) for one in channels if one.role == role)


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


def _mean(place: str, parts: Sequence[_Part]) -> dict[str, float]:
    """Return the mean of the numbers of parts, each by its weight."""
    weights = [part.weight + 1e-9 for part in parts]
    numbers = [part.numbers for part in parts]
    whole = sum(weights)
    # Without numpy: the hints without each channel call this a million times.
    return {
        f"{place}: {name}": sum(map(mul, map(itemgetter(name), numbers), weights)) / whole
        for name in numbers[0]
    }
