"""Hints: which behaviour of a model may lie behind its differences, how probable each is, and the words."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from correlate.diagnosis.hints.causes import GROUPS, Cause, Group, Side, Weighed, weigh
from correlate.diagnosis.hints.evidence import Evidence, EvidenceChannel
from correlate.display import short_repr
from correlate.errors import SettingsError
from correlate.pair import AlignedPair

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

LEAST_WEIGHT: Final = 0.05
"""A behaviour that is less probable is not hinted at (choice made here)."""
LEAST_SIZE: Final = 0.04
"""Below this size of all differences together, in shares of the peaks, models are too good for hints: chosen
so that honest models of the families for learning stay below it (99 % of them below 0.047)."""
MOST_SURE: Final = 0.8
"""With a first hint above this weight no second cause is named …"""
LEAST_SECOND: Final = 0.15
"""… nor one below this weight. On random rigs a second cause is then named in 4 % of single faults."""
SPEAKING: Final = 0.05
"""A channel speaks for or against a hint if its weight without that channel differs by this (chosen here)."""
MOST_SIGNS: Final = 3
"""Signs that a sentence names."""
LEAST_SIGN: Final = 0.25
"""A number has to be this large, in shares of the size of all differences, to be named."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Hint:
    """What the curves might say about a model, never a fact.

    Attributes
    ----------
    group
        Behaviour: one of :data:`correlate.diagnosis.hints.causes.GROUPS`.
    side
        ``too much`` or ``too little`` of it in the model.
    sentence
        The hint in words: what may be wrong, and the signs of it.
    weight
        Probability in [0, 1] that this is what is wrong, if one behaviour is; the page on hints says how
        often hints of a weight were right.
    channels
        Names of the channels that support it, the one with the largest effect first.
    against
        Names of the channels that contradict it.
    second
        Whether it is the most probable once the effect of the first hint is removed: both may be present.
    """

    group: Group
    side: Side
    sentence: str
    weight: float
    channels: tuple[str, ...] = ()
    against: tuple[str, ...] = ()
    second: bool = False


def hints(channels: AlignedPair | Iterable[EvidenceChannel]) -> tuple[Hint, ...]:
    """Hint at the behaviour of a model that may lie behind its differences from the tests.

    Parameters
    ----------
    channels
        One pair, or the channels of all load cases that one cause has to explain together: filtered, without
        offset, tests with the same parts in them.

    Returns
    -------
    tuple of Hint
        Most probable first, one per behaviour; empty where the differences are as small as
        those of honest models: below 4 % of the peaks.

    Raises
    ------
    SettingsError
        A test that is zero throughout.

    Notes
    -----
    How the probabilities come about, and how often they are right: ``docs/features-and-hints.md``. A pattern
    can have other causes; only a run with a changed model shows whether the hint was right.

    Examples
    --------
    >>> import numpy as np
    >>> time = np.arange(600) * 1e-4
    >>> def struck(stiffness):  # a mass on a spring: half a sine
    ...     phase = np.sqrt(stiffness) * (time - 0.005) / 0.02
    ...     return np.sqrt(stiffness) * np.sin(np.pi * np.clip(phase, 0, 1))
    >>> force = AlignedPair(time=time, reference=struck(1.0), candidate=struck(0.7))
    >>> travel = AlignedPair(time=time, reference=struck(1.0), candidate=struck(0.7) / 0.7)
    >>> found = hints(
    ...     [
    ...         EvidenceChannel(name="pad force", role="force", pair=force),
    ...         EvidenceChannel(name="pad travel", role="travel", pair=travel),
    ...     ]
    ... )
    >>> found[0].group, found[0].side
    ('stiffness', 'too little')
    """
    listed = _listed(channels)
    for one in listed:
        if not np.any(one.pair.reference):
            raise SettingsError(
                f"the test of channel '{one.name}' is zero throughout, so nothing can be compared with it",
                remedy="leave the channel out",
            )
    evidence = Evidence(listed)
    numbers = evidence.numbers()
    if numbers.get("size", 0.0) < LEAST_SIZE:
        return ()
    weighed = weigh(numbers)
    # A channel that is alone speaks for everything.
    compared = evidence.channels if len(evidence.channels) > 1 else ()
    without = {name: weigh(evidence.numbers_without(name)) for name in compared}
    causes = sorted(weighed.weights.items(), key=lambda one: -one[1])
    second = _second(weighed, numbers["size"])
    return tuple(
        _hint(cause, weight, numbers, without, first=causes[0][0] if cause == second else None)
        for cause, weight in causes
        if weight >= LEAST_WEIGHT
    )


def _second(weighed: Weighed, size: float) -> Cause | None:
    """Return the second cause where it pays: enough is left without the first, and it stands out."""
    if weighed.second is None or weighed.left * size < LEAST_SIZE:
        return None
    cause = weighed.second[0]
    sure = max(weighed.weights.values()) > MOST_SURE
    return None if sure or weighed.weights.get(cause, 0.0) < LEAST_SECOND else cause


def _listed(channels: AlignedPair | Iterable[EvidenceChannel]) -> list[EvidenceChannel]:
    if isinstance(channels, AlignedPair):
        return [EvidenceChannel(name="channel 1", role="force", pair=channels)]
    return list(channels)


def _hint(
    cause: Cause,
    weight: float,
    numbers: Mapping[str, float],
    without: Mapping[str, Weighed],
    *,
    first: Cause | None,
) -> Hint:
    """Put a probable cause into words, with the channels that speak for and against it."""
    group, side = cause
    drops = sorted(
        ((weight - _of_group(other, group), name) for name, other in without.items()), reverse=True
    )
    words = _sentence(behaviours()[group], side, numbers)
    return Hint(
        group=group,
        side=side,
        sentence=words
        if first is None
        else f"{words}. It is the most probable once the effect of the first hint ({first[0]}) is removed: "
        "both may be present",
        weight=weight,
        channels=tuple(name for drop, name in drops if drop >= SPEAKING),
        against=tuple(name for drop, name in reversed(drops) if drop <= -SPEAKING),
        second=first is not None,
    )


def _of_group(weighed: Weighed, group: Group) -> float:
    return sum(weight for (one, _), weight in weighed.weights.items() if one == group)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sign:
    """What an engineer looks for.

    Attributes
    ----------
    number
        End of the names of the numbers that show it; "load: …" stands for every load.
    turned
        Whether the number is lower with too much of the behaviour.
    more, less
        Words for a number above and below that of the test.
    """

    number: str
    turned: bool = False
    more: str
    less: str

    def read(self, numbers: Mapping[str, float]) -> float:
        """Return the largest of the numbers that show the sign, 0 where none is there."""
        found = [numbers[name] for name in self._names() if name in numbers]
        return max(found, key=abs, default=0.0)

    def _names(self) -> tuple[str, ...]:
        first, _, rest = self.number.partition(": ")
        loads = ("force", "rig", "acceleration")
        if first == "load":
            return tuple(f"{load}: {rest}" for load in loads)
        return tuple(f"{load} {self.number}" for load in loads) if first == "by travel" else (self.number,)

    def speaks(self, numbers: Mapping[str, float], side: Side) -> float:
        """Return how strongly it speaks for a side, in shares of the size of the differences."""
        much = -self.read(numbers) if self.turned else self.read(numbers)
        return much if side == "too much" else -much

    def words(self, numbers: Mapping[str, float]) -> str:
        """Return what is seen."""
        return self.more if self.read(numbers) > 0.0 else self.less


@dataclass(frozen=True, slots=True, kw_only=True)
class Behaviour:
    """A row of the table of signs: what may be behind each side, and what to look for."""

    name: Group
    much: str
    little: str
    signs: tuple[Sign, ...]


@cache
def behaviours() -> dict[Group, Behaviour]:
    """Return the table of signs by behaviour."""
    text = files("correlate.diagnosis.hints").joinpath("signs.toml").read_text(encoding="utf-8")
    return {one.name: one for one in read_behaviours(text)}


def read_behaviours(text: str) -> tuple[Behaviour, ...]:
    """Read a table of signs."""
    try:
        rows = tomllib.loads(text)["behaviour"]
        return tuple(_behaviour(row) for row in rows)
    except (tomllib.TOMLDecodeError, KeyError, TypeError) as error:
        raise SettingsError(
            f"the table of signs cannot be read: {error}", remedy="install the package again"
        ) from None


def _behaviour(row: Mapping[str, Any]) -> Behaviour:
    signs = tuple(Sign(**sign) for sign in row["signs"])
    if row["name"] not in GROUPS:
        raise KeyError(f"'{row['name']}' is no behaviour")
    return Behaviour(name=row["name"], much=row["much"], little=row["little"], signs=signs)


def _sentence(behaviour: Behaviour, side: Side, numbers: Mapping[str, float]) -> str:
    """Return what may be wrong, the signs of it and those against it."""
    strengths = sorted(
        ((sign.speaks(numbers, side), sign) for sign in behaviour.signs), key=lambda one: -one[0]
    )
    speaking = [sign.words(numbers) for strength, sign in strengths if strength >= LEAST_SIGN][:MOST_SIGNS]
    against = [sign.words(numbers) for strength, sign in reversed(strengths) if strength <= -LEAST_SIGN]
    may = behaviour.much if side == "too much" else behaviour.little
    seen = f"Signs: {', '.join(speaking)}" if speaking else "No single sign, only all differences together"
    contrary = f". Signs against it: {', '.join(against[:MOST_SIGNS])}" if against else ""
    return f"{may}. {seen}{contrary}"
