"""A unit that is not the one stated."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.diagnosis.suspects.case import rated, scaled
from correlate.diagnosis.suspects.freedom import MODERATE, error_left
from correlate.diagnosis.suspects.likeness import likeness, size_ratio
from correlate.diagnosis.suspects.suspect import Suspect
from correlate.unit_factors import factors_for, nearest_factor, unit_meant

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.diagnosis.suspects.case import Case


@dataclass(frozen=True, slots=True, kw_only=True)
class Limits:
    """What a factor must fulfil.

    Attributes
    ----------
    slack
        How far the logarithm of the ratio may lie from that of the factor, because models err in size.
    gain, after
        What dividing by it must win, and the rating it must reach.
    correlation
        How alike the curves must be, size left open.
    """

    slack: float
    gain: float
    after: float
    correlation: float


PLAUSIBLE: Final = 3.0
"""Factors below it are sizes that a poor model may have …"""
STRICT: Final = Limits(slack=0.1, gain=0.15, after=0.75, correlation=0.985)
"""… so that the rest must fit very well …"""
EASY: Final = Limits(slack=0.4, gain=0.02, after=0.4, correlation=0.8)
"""… while no honest model is five times too large."""
MOST_LEFT: Final = 0.15
"""Share of the squares of the test that may be left unexplained after the division."""
DELAY_SHARE: Final = 0.1
"""Delay forgiven, as a share of the interval."""


def wrong_unit(case: Case) -> Iterator[Suspect]:
    """Divide the candidate by the factor between two units that is nearest to the ratio of sizes.

    Parameters
    ----------
    case
        The pair.

    Yields
    ------
    Suspect
        ``unit wrong``.

    References
    ----------
    .. [1] Criterion derived here.
    """
    pair = case.pair
    if pair is None:
        return
    ratio = size_ratio(pair.reference, pair.candidate)
    factor = nearest_factor(ratio, factors_for(case.candidate.unit))
    if factor is None:
        return
    limits = STRICT if max(factor, 1 / factor) < PLAUSIBLE else EASY
    right = scaled(pair, 1 / factor)
    after = rated(right, case.settings) or 0.0
    limit = max(1, round(DELAY_SHARE * len(right)))
    alike = likeness(right.reference, right.candidate, limit).correlation
    if abs(math.log(ratio / factor)) > limits.slack or alike < limits.correlation:
        return
    if (
        error_left(right, MODERATE) > MOST_LEFT
        or after < limits.after
        or after - (case.rating or 0.0) < limits.gain
    ):
        return
    yield Suspect(
        kind="unit wrong",
        channel=case.reference.channel,
        evidence=f"the model is {ratio:.4g} times as large as the test, near the factor {factor:.5g} between "
        f"two units, and otherwise alike (correlation {alike:.2f})",
        fix=_fix(case, factor),
        rating_before=case.rating,
        rating_after=after,
        change={"candidate_factor": 1 / factor, **_unit(case, factor), **case.extra},
        weight=alike,
    )


def _unit(case: Case, factor: float) -> dict[str, str]:
    meant = unit_meant(case.candidate.unit, factor)
    return {"candidate_unit": meant} if meant else {}


def _fix(case: Case, factor: float) -> str:
    meant, written = unit_meant(case.candidate.unit, factor), case.candidate.unit
    if meant:
        return (
            f"check the units of both files; if the model is in {meant}, not in {written}, "
            f'write model_unit = "{meant}"'
        )
    return f"check the units of both files; export the model again, its values divided by {factor:.5g}"
