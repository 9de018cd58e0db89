"""Suspects in size: unit and sign."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

from correlate.diagnosis.suspects.case import (
    MODERATE,
    Suspect,
    error_left,
    likeness,
    rated,
    scaled,
    size_ratio,
)
from correlate.unit_factors import factors_for, nearest_factor, unit_meant

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.diagnosis.suspects.case import Case


@dataclass(frozen=True, slots=True, kw_only=True)
class FactorLimits:
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
STRICT: Final = FactorLimits(slack=0.1, gain=0.15, after=0.75, correlation=0.985)
"""… so that the rest must fit very well …"""
EASY: Final = FactorLimits(slack=0.4, gain=0.02, after=0.4, correlation=0.8)
"""… while no honest model is five times too large."""
UNIT_MOST_LEFT: Final = 0.15
"""Share of the squares of the test that may be left unexplained after the division."""
DELAY_SHARE: Final = 0.1
"""Delay forgiven, as a share of the interval."""


def wrong_unit(case: Case) -> Iterator[Suspect]:
    """Divide the candidate by the factor between two units that is nearest to the ratio of sizes.

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
        error_left(right, MODERATE) > UNIT_MOST_LEFT
        or after < limits.after
        or after - (case.rating or 0.0) < limits.gain
    ):
        return
    yield Suspect(
        kind="unit wrong",
        channel=case.reference.channel,
        evidence=f"the model is {ratio:.4g} times as large as the test, near the factor {factor:.5g} between "
        f"two units, and otherwise similar (correlation {alike:.2f})",
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
            f"check the units of both files; if the unit of the model is {meant} and not {written}, "
            f'write model_unit = "{meant}"'
        )
    return f"check the units of both files; export the model again, its values divided by {factor:.5g}"


SIGN_MOST_LEFT: Final = 0.12
"""The turned curve must leave no more than this share of the squares of the reference …"""
BETTER: Final = 0.45
"""… and no more than this share of what a poor model's freedoms would leave of the straight one."""


def turned_sign(case: Case) -> Iterator[Suspect]:
    """Turn the sign of the candidate and see whether it then fits.

    References
    ----------
    .. [1] Criterion derived here.
    """
    if case.pair is None:
        return
    turned = scaled(case.pair, -1.0)
    left = error_left(turned, MODERATE)
    if left > min(SIGN_MOST_LEFT, BETTER * case.poor):
        return
    after = rated(turned, case.settings) or 0.0
    if after <= (case.rating or 0.0):
        return
    sign = -case.recipe.candidate_sign
    yield Suspect(
        kind="sign turned",
        channel=case.reference.channel,
        evidence=f"with the sign of the model inverted, size, delay and duration leave {left:.2f} of the "
        f"squares of the test unexplained; with the sign as it is, {case.poor:.2f}",
        fix=f"check the polarity of both sides; if the model is wrong, write model_sign = {sign}",
        rating_before=case.rating,
        rating_after=after,
        change={"candidate_sign": sign, **case.extra},
        weight=1 - left,
    )
