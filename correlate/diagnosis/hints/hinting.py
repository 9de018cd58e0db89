"""Hints: what the rules make of the evidence, and the words for it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.diagnosis.hints.rules import GROUPS, Evidence, Group, Reading, Rule, Side, evidence_of, rules
from correlate.display import short_repr
from correlate.errors import SettingsError
from correlate.pair import AlignedPair

if TYPE_CHECKING:
    from collections.abc import Callable, Collection, Iterable, Mapping

    from correlate.diagnosis.features.corrections import Features
    from correlate.diagnosis.hints.rules import Condition
    from correlate.metrics.iso18571 import RatingSettings


def numbers_in_words(rule: Rule, evidence: Evidence, direction: float) -> str:
    """Return what the conditions of a rule measured, for people."""
    speaking: list[str] = []
    against: list[str] = []
    for condition in rule.conditions:
        value = evidence.numbers.get(condition.number)
        if value is None or condition.number not in _WORDS or _is_caution(condition):
            continue
        side = against if condition.holds(value, direction) < 0.0 else speaking
        side.append(_WORDS[condition.number](evidence))
    return "; against it: ".join(", ".join(words) for words in (speaking, against) if words)


def _is_caution(condition: Condition) -> bool:
    """Say whether a condition only keeps the rule from speaking about brief differences."""
    return condition.number == "brevity" and condition.full > condition.none


def _share(name: str, shown: str, more: str, less: str) -> Callable[[Evidence], str]:
    def words(evidence: Evidence) -> str:
        test, model = getattr(evidence.test, name), getattr(evidence.model, name)
        change = model / test - 1.0
        if abs(change) < 0.005:
            return f"{shown} alike"
        return f"{shown} {abs(change):.0%} {more if change > 0 else less}".replace("%", " %")

    return words


def _moment(name: str, shown: str) -> Callable[[Evidence], str]:
    def words(evidence: Evidence) -> str:
        test, model = getattr(evidence.test, name), getattr(evidence.model, name)
        change = 1e3 * (model - test)
        if abs(change) < 0.005:
            return f"{shown} at the same time"
        return f"{shown} {abs(change):.2g} ms {'later' if change > 0 else 'earlier'}"

    return words


def _both(read: Callable[[Features], float | None], shown: str) -> Callable[[Evidence], str]:
    def words(evidence: Evidence) -> str:
        test, model = read(evidence.test), read(evidence.model)
        return f"{shown} {model:.3g}, test {test:.3g}"

    return words


def _number(name: str, pattern: str) -> Callable[[Evidence], str]:
    def words(evidence: Evidence) -> str:
        return pattern.format(evidence.numbers[name])

    return words


def _percent(name: str, pattern: str) -> Callable[[Evidence], str]:
    def words(evidence: Evidence) -> str:
        return pattern.format(f"{abs(evidence.numbers[name]):.0%}".replace("%", " %"))

    return words


_WORDS: Final[dict[str, Callable[[Evidence], str]]] = {
    "onset": _moment("onset_time", "onset"),
    "peak": _share("peak", "peak", "higher", "lower"),
    "time of peak": _moment("peak_time", "peak"),
    "rise rate": _share("rise_rate", "rise", "steeper", "flatter"),
    "fall rate": _share("fall_rate", "fall", "steeper", "flatter"),
    "duration": _share("half_duration", "duration at half peak", "longer", "shorter"),
    "impulse": _share("impulse", "impulse", "larger", "smaller"),
    "tail frequency": _both(lambda found: found.tail_frequency, "frequency of the tail in Hz"),
    "tail damping": _both(lambda found: found.tail_damping, "damping ratio of the tail"),
    "second phase": _percent("second phase", "later peak off by {} of the largest difference"),
    "brevity": _number("brevity", "difference large for {:.2g} of the duration at half peak"),
    "level of parting": _percent("level of parting", "the curves part at {} of the test's peak"),
    "level of departure": _percent("level of departure", "alike up to {} of the test's peak"),
    "flat top": _percent("flat top", "share of the pulse near its top differs by {}"),
}


LEAST_COST: Final = 0.002
"""A channel that has lost less rating than this has nothing to say (choice made here)."""
LEAST_WEIGHT: Final = 0.05
"""A group with less weight is not hinted at (choice made here)."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Hint:
    """What the curves might say about a material, never a fact.

    Attributes
    ----------
    group
        Behaviour: ``stiffness``, ``damping``, ``hysteresis``, ``contact or densification`` or ``inertia``.
    side
        ``too little`` or ``too much`` of it in the model, or ``unclear``.
    sentence
        The hint in words: the loudest channel, what is seen there, the numbers, and what may be behind it.
    weight
        How much the pattern is met, in [0, 1]: memberships of the channels, weighted by the rating each has
        lost. Not a probability.
    channels
        Names of the channels that speak for it, loudest first.
    """

    group: Group
    side: Side
    sentence: str
    weight: float
    channels: tuple[str, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class _Voice:
    name: str
    evidence: Evidence
    rule: Rule
    reading: Reading
    direction: float
    membership: float

    @property
    def numbers(self) -> str:
        """What the rule measured, in words."""
        return numbers_in_words(self.rule, self.evidence, self.direction)

    @property
    def loudness(self) -> float:
        """Membership times the rating that the channel has lost."""
        return self.membership * self.evidence.cost


def hints(
    pairs: AlignedPair | Iterable[AlignedPair] | Mapping[str, AlignedPair],
    *,
    travels: Collection[str] = (),
    settings: RatingSettings | None = None,
) -> tuple[Hint, ...]:
    """Hint at the material behaviour that may lie behind the differences of one load case.

    Parameters
    ----------
    pairs
        One pair, several, or channel name to pair: all of one load case, filtered, without offset. Without
        names they are called ``channel 1``, ``channel 2`` and so on.
    travels
        Names of the channels that are displacements or angles; the others count as loads (forces, moments,
        accelerations). The two obey different rules: what is too soft carries less and travels further.
    settings
        Of the rating, with which channels are weighed.

    Returns
    -------
    tuple of Hint
        Largest weight first, one a group; empty where the curves hint at nothing.

    Raises
    ------
    SignalError
        A test that is zero throughout, or a pair too short to be rated.
    SettingsError
        A name in ``travels`` that is no channel.

    Notes
    -----
    Rules and their reasoning: ``docs/features-and-hints.md``. A pattern can have other causes; only
    a run with a changed material shows whether the hint was right.

    References
    ----------
    .. [1] Rules of thumb of the trade: common practice, no source; the numbers were chosen here.

    Examples
    --------
    >>> import numpy as np
    >>> time = np.arange(600) * 1e-4
    >>> def struck(stiffness):  # a mass on a spring: half a sine
    ...     phase = np.sqrt(stiffness) * (time - 0.005) / 0.02
    ...     return np.sqrt(stiffness) * np.sin(np.pi * np.clip(phase, 0, 1))
    >>> found = hints(AlignedPair(time=time, reference=struck(1.0), candidate=struck(0.7)))
    >>> found[0].group, found[0].side
    ('stiffness', 'too little')
    """
    named = _named(pairs)
    for name in travels:
        if name not in named:
            raise SettingsError(
                f"'{name}' is named as a travel, but no channel has that name",
                remedy=f"use one of {', '.join(named)}",
            )
    gathered = {name: evidence_of(pair, settings) for name, pair in named.items()}
    speaking = {name: one for name, one in gathered.items() if one and one.cost >= LEAST_COST}
    voices = [
        voice
        for name, evidence in speaking.items()
        for voice in _voices(name, evidence, "travel" if name in travels else "load")
    ]
    whole = sum(one.cost for one in speaking.values())
    found = [_hint(group, [one for one in voices if one.rule.group == group], whole) for group in GROUPS]
    return tuple(sorted((one for one in found if one), key=lambda one: -one.weight))


def _named(pairs: AlignedPair | Iterable[AlignedPair] | Mapping[str, AlignedPair]) -> dict[str, AlignedPair]:
    if isinstance(pairs, AlignedPair):
        return {"channel 1": pairs}
    if hasattr(pairs, "items"):
        return dict(pairs.items())
    return {f"channel {index}": pair for index, pair in enumerate(pairs, start=1)}


def _voices(name: str, evidence: Evidence, quantity: str) -> list[_Voice]:
    """Return what one channel says: for each side of each group its best rule, if that is met at all."""
    best: dict[tuple[Group, Side], _Voice] = {}
    for rule in rules():
        if rule.quantity not in {quantity, "any"}:
            continue
        for direction, reading in ((1.0, rule.forward), (-1.0, rule.backward)):
            voice = _Voice(
                name=name,
                evidence=evidence,
                rule=rule,
                reading=reading,
                direction=direction,
                membership=rule.met(evidence.numbers, direction),
            )
            key = rule.group, reading.side
            if voice.membership > (best[key].membership if key in best else 0.0):
                best[key] = voice
    return list(best.values())


def _hint(group: Group, voices: list[_Voice], whole: float) -> Hint | None:
    """Let the sides of a group speak apart: channels that contradict each other are no evidence."""
    sides = {voice.reading.side for voice in voices}
    loudest = max(
        ([voice for voice in voices if voice.reading.side == side] for side in sides),
        key=lambda some: sum(voice.loudness for voice in some),
        default=[],
    )
    weight = sum(voice.loudness for voice in loudest) / whole if whole else 0.0
    if weight < LEAST_WEIGHT:
        return None
    ordered = sorted(loudest, key=lambda voice: -voice.loudness)
    first = ordered[0]
    return Hint(
        group=group,
        side=first.reading.side,
        sentence=f"{first.name}: {first.reading.seen} ({first.numbers}); {first.reading.may}",
        weight=weight,
        channels=tuple(voice.name for voice in ordered),
    )
