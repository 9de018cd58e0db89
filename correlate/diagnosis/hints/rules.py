"""The table of rules: read from ``hints.toml`` beside this file, checked once."""

from __future__ import annotations

import tomllib
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import TYPE_CHECKING, Any, Final, Literal, get_args

from correlate.diagnosis.hints.evidence import CHANGES, PROPERTIES
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from collections.abc import Mapping

Group = Literal["stiffness", "damping", "hysteresis", "contact or densification", "inertia"]
GROUPS: Final[tuple[Group, ...]] = get_args(Group)
"""Groups of material behaviour."""
Quantity = Literal["load", "travel", "any"]
Side = Literal["too little", "too much", "unclear"]


@dataclass(frozen=True, slots=True, kw_only=True)
class Condition:
    """What a rule expects of one number.

    Attributes
    ----------
    number
        One of ``CHANGES`` or ``PROPERTIES``.
    none, full
        Where the number does not speak for the rule at all, and where it does so fully; straight in between.
    needed
        The rule is silent as far as this fails; otherwise the condition is one of several that are averaged.
    """

    number: str
    none: float
    full: float
    needed: bool = False

    def holds(self, value: float, direction: float) -> float:
        """Return how far it holds, in [-1, 1]; below 0 (never when needed) the number speaks against it.

        Parameters
        ----------
        value
            The number.
        direction
            -1 for the opposite of the rule: features then change the other way.

        Returns
        -------
        float
        """
        seen = value * direction if self.number in CHANGES else value
        share = (seen - self.none) / (self.full - self.none)
        return min(1.0, max(0.0 if self.needed else -1.0, share))


@dataclass(frozen=True, slots=True, kw_only=True)
class Reading:
    """What a rule says when its pattern is met one way round.

    Attributes
    ----------
    side
        Whether the model may have too little or too much of the behaviour.
    seen
        The pattern in words.
    may
        What may be behind it, worded as a hint.
    """

    side: Side
    seen: str
    may: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Rule:
    """One rule and its opposite.

    Attributes
    ----------
    group
        Behaviour it hints at.
    quantity
        ``load`` for forces, moments and accelerations; ``travel`` for displacements and angles; ``any``.
    forward, backward
        What is said when the pattern is met, and when it is met with every change turned.
    conditions
        All of them.
    """

    group: Group
    quantity: Quantity
    forward: Reading
    backward: Reading
    conditions: tuple[Condition, ...]

    def met(self, numbers: Mapping[str, float], direction: float) -> float:
        """Return how far the rule is met: the mean of its conditions, times each needed one.

        Parameters
        ----------
        numbers
            Of the evidence. A condition whose number is absent is left out; a needed one then fails.
        direction
            1, or -1 for the opposite of the rule.

        Returns
        -------
        float
            In [0, 1].
        """
        gate, shares = 1.0, []
        for condition in self.conditions:
            value = numbers.get(condition.number)
            if condition.needed:
                gate *= 0.0 if value is None else condition.holds(value, direction)
            elif value is not None:
                shares.append(condition.holds(value, direction))
        if all(condition.needed for condition in self.conditions):
            return gate
        return gate * max(0.0, sum(shares) / len(shares)) if shares else 0.0


@cache
def rules() -> tuple[Rule, ...]:
    """Return the rules in the order of the file.

    Returns
    -------
    tuple of Rule

    Raises
    ------
    SettingsError
        The file is damaged; the message names the rule.
    """
    return parse_rules(files("correlate.diagnosis.hints").joinpath("hints.toml").read_text(encoding="utf-8"))


def parse_rules(text: str) -> tuple[Rule, ...]:
    """Read a table of rules.

    Parameters
    ----------
    text
        TOML.

    Returns
    -------
    tuple of Rule

    Raises
    ------
    SettingsError
        A rule that names an unknown group, quantity, side or number, or lacks a key.
    """
    try:
        content = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise SettingsError(
            f"the table of hints cannot be read: {error}", remedy="install the package again"
        ) from None
    return tuple(_rule(one, index) for index, one in enumerate(content.get("rule", []), start=1))


def _rule(one: dict[str, Any], index: int) -> Rule:
    try:
        rule = Rule(
            group=one["group"],
            quantity=one["quantity"],
            forward=Reading(**one["forward"]),
            backward=Reading(**one["backward"]),
            conditions=tuple(Condition(**condition) for condition in one["conditions"]),
        )
    except (KeyError, TypeError) as error:
        raise SettingsError(
            f"rule {index} of the table of hints lacks or misspells a key: {error}",
            remedy="correct hints.toml",
        ) from None
    for word, known in (
        (rule.group, GROUPS),
        (rule.quantity, get_args(Quantity)),
        (rule.forward.side, get_args(Side)),
        (rule.backward.side, get_args(Side)),
        *((condition.number, (*CHANGES, *PROPERTIES)) for condition in rule.conditions),
    ):
        if word not in known:
            raise SettingsError(
                f"rule {index} of the table of hints has '{word}', which is unknown",
                remedy=f"use one of {', '.join(known)}",
            )
    return rule
