"""An inverted sign."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from correlate.diagnosis.suspects.case import rated, scaled
from correlate.diagnosis.suspects.freedom import MODERATE, error_left
from correlate.diagnosis.suspects.suspect import Suspect

if TYPE_CHECKING:
    from collections.abc import Iterator

    from correlate.diagnosis.suspects.case import Case

MOST_LEFT: Final = 0.12
"""The turned curve must leave no more than this share of the squares of the reference …"""
BETTER: Final = 0.45
"""… and no more than this share of what a poor model's freedoms would leave of the straight one."""


def turned_sign(case: Case) -> Iterator[Suspect]:
    """Turn the sign of the candidate and see whether it then fits.

    Parameters
    ----------
    case
        The pair.

    Yields
    ------
    Suspect
        ``sign turned``.

    References
    ----------
    .. [1] Criterion derived here.
    """
    if case.pair is None:
        return
    turned = scaled(case.pair, -1.0)
    left = error_left(turned, MODERATE)
    if left > min(MOST_LEFT, BETTER * case.poor):
        return
    after = rated(turned, case.settings) or 0.0
    if after <= (case.rating or 0.0):
        return
    sign = -case.recipe.candidate_sign
    yield Suspect(
        kind="sign turned",
        channel=case.reference.channel,
        evidence=f"with the sign of the model turned, size, delay and duration leave {left:.2f} of the "
        f"squares of the test unexplained; with the sign as it is, {case.poor:.2f}",
        fix=f"check the polarity of both sides; if the model is wrong, write model_sign = {sign}",
        rating_before=case.rating,
        rating_after=after,
        change={"candidate_sign": sign, **case.extra},
        weight=1 - left,
    )
