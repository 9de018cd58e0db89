"""The numbers behind a hint in words.

Where the evidence holds a number, both curves have the feature it came from.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from collections.abc import Callable

    from correlate.diagnosis.features.gathering import Features
    from correlate.diagnosis.hints.evidence import Evidence
    from correlate.diagnosis.hints.rules import Condition, Rule


def numbers_in_words(rule: Rule, evidence: Evidence, direction: float) -> str:
    """Return what the conditions of a rule measured, for people.

    Parameters
    ----------
    rule
        The rule that speaks.
    evidence
        What it speaks about.
    direction
        1, or -1 for the opposite of the rule.

    Returns
    -------
    str
        For instance ``peak 14 % lower, duration at half peak 12 % longer; against it: peak 3.7 ms earlier``.
    """
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
