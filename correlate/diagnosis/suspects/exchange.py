"""Two axes of one sensor that were exchanged, with either sign."""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, product
from typing import TYPE_CHECKING, Final

from correlate.diagnosis.suspects.case import rated
from correlate.diagnosis.suspects.freedom import MODERATE, error_left
from correlate.diagnosis.suspects.suspect import Suspect
from correlate.pair import AlignedPair

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.diagnosis.suspects.case import Case

MOST_LEFT: Final = 0.1
"""The exchange must leave no more than this share of the squares of the two references …"""
BETTER: Final = 0.6
"""… and no more than this share of what a poor model's freedoms would leave of the two axes as they are."""
OCCAM: Final = 1.3
"""Factor on the error for the weight: with axes and signs to choose from, one fits sooner by chance."""


@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class Exchange:
    """One exchange of two axes.

    Attributes
    ----------
    axes
        Numbers of the two.
    sign
        Of the curve that now stands in the place of the first.
    first
        The first of the two pairs after the exchange.
    lefts
        Squared errors that a usable model's freedoms leave of the two.
    """

    axes: tuple[int, int]
    sign: int
    first: AlignedPair
    lefts: tuple[float, float]

    @property
    def left(self) -> float:
        """Squared error of both."""
        return sum(self.lefts)


def best_exchange(pairs: Sequence[AlignedPair], energies: Sequence[float], poor: Sequence[float]) -> Exchange:
    """Exchange every two axes with every pair of signs.

    Parameters
    ----------
    pairs
        Of the three axes, on one grid.
    energies
        Sums of squares of the three references.
    poor
        Squared errors that a poor model's freedoms leave of the axes as they are.

    Returns
    -------
    Exchange
        That with the least error of all three axes.
    """
    tried = []
    for one, other in combinations(range(3), 2):
        options = [
            [_option(pairs, energies, place, source, sign) for sign in (1, -1)]
            for place, source in ((one, other), (other, one))
        ]
        for (sign, first, left), (_, _, right) in product(*options):
            tried.append(Exchange(axes=(one, other), sign=sign, first=first, lefts=(left, right)))
    total = sum(poor)
    return min(tried, key=lambda one: total - sum(poor[index] for index in one.axes) + one.left)


def _option(
    pairs: Sequence[AlignedPair], energies: Sequence[float], place: int, source: int, sign: int
) -> tuple[int, AlignedPair, float]:
    pair = AlignedPair(
        time=pairs[place].time, reference=pairs[place].reference, candidate=sign * pairs[source].candidate
    )
    return sign, pair, energies[place] * error_left(pair, MODERATE)


def suspected_exchange(
    tried: Exchange, cases: Sequence[Case], energies: Sequence[float], poor: Sequence[float]
) -> Suspect | None:
    """Say whether the best exchange is so good that it is suspected.

    Parameters
    ----------
    tried
        The best exchange.
    cases
        The three axes with their recipes.
    energies, poor
        As for :func:`best_exchange`.

    Returns
    -------
    Suspect or None
        ``other axis``, for the first of the two.

    References
    ----------
    .. [1] Criterion derived here.
    """
    size, before = (sum(values[index] for index in tried.axes) for values in (energies, poor))
    if tried.left > min(MOST_LEFT * size, BETTER * before):
        return None
    case, other = cases[tried.axes[0]], cases[tried.axes[1]]
    after = rated(tried.first, case.settings) or 0.0
    if after <= (case.rating or 0.0):
        return None
    sign = tried.sign * case.recipe.candidate_sign
    return Suspect(
        kind="other axis",
        channel=case.reference.channel,
        evidence=f"with '{case.candidate.channel}' and '{other.candidate.channel}' exchanged "
        f"{tried.left / size:.2f} of the squares of both axes of the test cannot be explained by size, delay "
        f"and duration, as they are "
        f"{before / size:.2f}",
        fix=f'check the axes of both sides; if they are exchanged, write model = "{other.candidate.channel}" '
        f"and model_sign = {sign} for '{case.reference.channel}', the reverse "
        f"for '{other.reference.channel}'",
        rating_before=case.rating,
        rating_after=after,
        change={"candidate_channel": other.candidate.channel, "candidate_sign": sign, **case.extra},
        weight=1 - OCCAM * tried.left / size,
    )
