"""Proposals for channels without a partner: ranked, each with its reasons, none used until accepted.

A proposal weighs three things: whether the units measure the same thing (else there is none), how many words
the names share, and how alike the curves are when shifted.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.channel import ChannelCode, is_channel_code
from correlate.conditioning import Recipe, align
from correlate.display import short_repr
from correlate.errors import CorrelateError
from correlate.metrics.iso18571 import RatingSettings
from correlate.metrics.iso18571.phase import shift_correlations
from correlate.units import parse_unit

if TYPE_CHECKING:
    from collections.abc import Iterable

    from correlate.signal import Signal

WORD_SHARE: Final = 0.4
"""Weight of the names; the rest is the weight of the curves. Chosen here."""

NEAR: Final = RatingSettings(flat_overlap="zero", largest_shift=0.05)
"""Shifts tried: few, because a long one leaves the event out and correlates what is left."""

_ALIKE: Final = {
    "accel": "acceleration",
    "acc": "acceleration",
    "deceleration": "acceleration",
    "disp": "displacement",
    "deflection": "displacement",
    "compression": "displacement",
    "rot": "angle",
    "rotation": "angle",
    "probe": "pendulum",
    "impactor": "pendulum",
    "sternum": "chest",
    "spine": "thoracic",
    "ax": "acceleration x",
    "ay": "acceleration y",
    "az": "acceleration z",
    "fx": "force x",
    "fy": "force y",
    "fz": "force z",
    "mx": "moment x",
    "my": "moment y",
    "mz": "moment z",
}
"""Words that mean the same in channel names (common practice, no source)."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Proposal:
    """A possible partner of a test channel.

    Attributes
    ----------
    test, model
        Names of the channels.
    score
        In [0, 1]; the best comes first.
    sign
        -1 when the model fits better with its sign turned.
    reasons
        Why, one clause each.
    """

    test: str
    model: str
    score: float
    sign: int
    reasons: tuple[str, ...]


def propose(test: Signal, candidates: Iterable[Signal], *, recipe: Recipe | None = None) -> list[Proposal]:
    """Rank the channels of a model's output as partners of a test channel.

    Parameters
    ----------
    test
        The test channel.
    candidates
        Channels of the model.
    recipe
        Interval and filter to compare the curves with.

    Returns
    -------
    list of Proposal
        Best first; channels that measure something else are left out.
    """
    found = [_proposal(test, candidate, recipe or Recipe()) for candidate in candidates]
    return sorted((one for one in found if one is not None), key=lambda one: (-one.score, one.model))


def name_similarity(first: str, second: str) -> tuple[float, list[str]]:
    """Return the share of words that two channel names have in common, and those words.

    Parameters
    ----------
    first, second
        Names or 16-character codes, which are spelt out.

    Returns
    -------
    float
        Shared words over all words, in [0, 1].
    list of str

    Examples
    --------
    >>> name_similarity("D0HEAD0000KMACXP", "head x accel")
    (1.0, ['acceleration', 'head', 'x'])
    """
    one, two = _words(first), _words(second)
    shared = one & two
    return len(shared) / len(one | two), sorted(shared)


def _words(name: str) -> set[str]:
    text = ChannelCode(name).describe() if is_channel_code(name) else name
    split = re.findall(r"[a-z]+|\d+", text.lower())
    return {part for word in split for part in _ALIKE.get(word, word).split()} or {text}


def _proposal(test: Signal, candidate: Signal, recipe: Recipe) -> Proposal | None:
    unit, other = parse_unit(test.unit), parse_unit(candidate.unit)
    if unit.exponents != other.exponents:
        return None
    alike, shared = name_similarity(test.channel, candidate.channel)
    reasons = [f"both measure {unit.dimension}"]
    if shared:
        reasons.append("names share " + ", ".join(shared))
    correlation = _correlation(test, candidate, recipe)
    if correlation is None:
        # The interval may reach beyond one of them; what they share is enough to rank by.
        correlation = _correlation(test, candidate, Recipe(cfc=recipe.cfc))
    if correlation is None:
        reasons.append("curves could not be compared")
    else:
        turned = ", with the sign turned" if correlation < 0 else ""
        reasons.append(f"curves correlate {abs(correlation):.2f} when shifted{turned}")
    score = WORD_SHARE * alike + (1 - WORD_SHARE) * abs(correlation or 0.0)
    return Proposal(
        test=test.channel,
        model=candidate.channel,
        score=score,
        sign=-1 if (correlation or 0.0) < 0 else 1,
        reasons=tuple(reasons),
    )


def _correlation(test: Signal, candidate: Signal, recipe: Recipe) -> float | None:
    """Return the correlation of largest size over small shifts, with its sign."""
    try:
        pair = align(test, candidate, recipe)
    except CorrelateError:
        return None
    values = shift_correlations(pair, NEAR).values
    return float(values[np.argmax(np.abs(values))])
