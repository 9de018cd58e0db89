"""Another axis of the sensor that fits better."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.conditioning import condition
from correlate.diagnosis.suspects.case import paired, rated, scaled
from correlate.diagnosis.suspects.freedom import MODERATE, error_left
from correlate.diagnosis.suspects.suspect import Suspect
from correlate.errors import CorrelateError

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.diagnosis.suspects.case import Case
    from correlate.pair import AlignedPair

MOST_LEFT: Final = 0.06
"""Another axis must leave no more than this share of the squares of the reference …"""
BETTER: Final = 0.35
"""… and no more than this share of what a poor model's freedoms would leave of the axis in place."""
NOTABLE: Final = 0.08
"""Below this share the axis in place needs no other explanation than a poor model."""
OCCAM: Final = 1.5
"""Factor on the error for the weight: with axes and signs to choose from, one fits sooner by chance."""


def other_axis(case: Case) -> Iterator[Suspect]:
    """Take the place of the candidate by each other axis, with either sign.

    Parameters
    ----------
    case
        The pair and the other axes.

    Yields
    ------
    Suspect
        ``other axis``, the best of them.

    References
    ----------
    .. [1] Criterion derived here.
    """
    found = [suspect for name in case.others for sign in (1, -1) for suspect in _tried(case, name, sign)]
    if found:
        yield max(found, key=lambda suspect: suspect.weight)


def _tried(case: Case, name: str, sign: int) -> Iterator[Suspect]:
    pair = _pair(case, name, sign)
    if pair is None:
        return
    left = error_left(pair, MODERATE)
    after = rated(pair, case.settings) or 0.0
    if case.poor < NOTABLE or left > min(MOST_LEFT, BETTER * case.poor) or after <= (case.rating or 0.0):
        return
    words = " with its sign turned" if sign == -1 else ""
    yield Suspect(
        kind="other axis",
        channel=case.reference.channel,
        evidence=f"of '{name}'{words} {left:.2f} of the squares of the test cannot be explained by "
        f"size, delay and duration, of '{case.candidate.channel}' {case.poor:.2f}",
        fix=f'check the axes of both sides; if they are exchanged, write model = "{name}"'
        + (f" and model_sign = {-case.recipe.candidate_sign}" if sign == -1 else ""),
        rating_before=case.rating,
        rating_after=after,
        change={
            "candidate_channel": name,
            "candidate_sign": sign * case.recipe.candidate_sign,
            **case.extra,
        },
        weight=1 - OCCAM * left,
    )


def _pair(case: Case, name: str, sign: int) -> AlignedPair | None:
    unit = case.recipe.unit or case.reference.unit
    try:
        treated = condition(case.others[name], case.recipe.for_candidate(unit))
    except CorrelateError:
        # An axis that cannot be compared is no better one.
        return None
    pair = paired(case.treated_reference, treated, case.recipe)
    return scaled(pair, -1.0) if pair is not None and sign == -1 else pair
