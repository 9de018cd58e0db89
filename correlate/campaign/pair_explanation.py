"""Where one pair loses rating points: over time, what a change would gain, and possible causes."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Final

import numpy as np

from correlate.campaign.sought_suspects import SuspectSearch
from correlate.diagnosis.accounting import LossAccount, account_for_loss
from correlate.diagnosis.differences import FeatureDifference, feature_differences
from correlate.diagnosis.hints import Hint, hints
from correlate.diagnosis.suspects import Suspect, suspects
from correlate.diagnosis.what_if import WhatIf, what_if
from correlate.display import short_repr
from correlate.evaluation.curves import is_travel
from correlate.evaluation.pair_score import PairScore, score_pair

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from correlate.conditioning import Recipe
    from correlate.evaluation.case import CaseEvaluation
    from correlate.evaluation.tables import Release
    from correlate.metrics.iso18571 import RatingSettings
    from correlate.signal import Signal

FEIGNING: Final = ("sign turned", "unit wrong")
"""Suspects after which sizes say nothing of a material."""


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True, eq=False)
class PairExplanation:
    """Everything that can be said about the loss of one pair.

    Attributes
    ----------
    score
        The rated pair.
    account
        Its loss over time.
    what_if
        The rating after the best shift, scale, offset and stretch.
    suspects
        Data-handling errors that the pair looks like, best first.
    differences
        Features of both curves, the one that explains most first; empty where the model is zero throughout.
    hints
        To the behaviour of materials, the best supported first.
    """

    score: PairScore
    account: LossAccount
    what_if: WhatIf
    suspects: tuple[Suspect, ...]
    differences: tuple[FeatureDifference, ...]
    hints: tuple[Hint, ...]

    @property
    def model_is_zero(self) -> bool:
        """Whether the model is zero throughout, so that its rating and what would win say nothing."""
        return not np.any(self.score.rating.pair.candidate)

    @property
    def hints_wait(self) -> bool:
        """Whether the first suspect would feign a material; the hints say nothing until it is cleared."""
        return feigns_material(self.suspects)


def feigns_material(found: Sequence[Suspect]) -> bool:
    """Say whether a turned sign or a wrong unit comes first: hints read such a curve as a material.

    Parameters
    ----------
    found
        Suspects of one channel, best first.

    Returns
    -------
    bool
    """
    return bool(found) and found[0].kind in FEIGNING


def explain_pair(
    reference: Signal,
    candidate: Signal,
    *,
    recipe: Recipe | None = None,
    settings: RatingSettings | None = None,
    other_axes: Mapping[str, Signal] | None = None,
) -> PairExplanation:
    """Say where a pair loses its rating and what may lie behind it.

    Parameters
    ----------
    reference, candidate
        The test and the model as they were read.
    recipe, settings
        As for :func:`score_pair`.
    other_axes
        Of the model's sensor, as read, by name; tried in the place of the candidate.

    Returns
    -------
    PairExplanation

    Raises
    ------
    CorrelateError
        As :func:`score_pair`.
    """
    score = score_pair(reference, candidate, recipe=recipe, settings=settings)
    found = suspects(reference, candidate, score.recipe, settings, other_axes=other_axes or {})
    return _explanation(score, found, settings)


def explain_campaign_pair(
    case: CaseEvaluation, release: Release, channel: str, repeat: str = ""
) -> PairExplanation:
    """Say where a pair of a campaign loses its rating and what may lie behind it.

    Parameters
    ----------
    case
        Its load case.
    release, channel, repeat
        As for :meth:`CaseEvaluation.pair`.

    Returns
    -------
    PairExplanation
        Suspects are sought in the test; of a mean curve, in its first repeat. None are sought for a
        resultant: its axes are pairs of their own.

    Raises
    ------
    CorrelateError
        A curve is missing, or the pair cannot be conditioned or rated.
    """
    pair = case.pair(release, channel, repeat)
    score = pair.score()
    test = pair.names.repeat if pair.names.repeat in case.paths else next(iter(case.tests(channel)))
    found = SuspectSearch.in_case(case, release, test).of(channel)
    return _explanation(score, found, case.campaign.settings)


def _explanation(
    score: PairScore, found: tuple[Suspect, ...], settings: RatingSettings | None
) -> PairExplanation:
    pair, name = score.rating.pair, score.reference.channel
    moves = bool(np.any(pair.candidate))
    return PairExplanation(
        score=score,
        account=account_for_loss(score.rating),
        what_if=what_if(pair, settings),
        suspects=found,
        differences=feature_differences(pair, settings, unit=score.reference.unit) if moves else (),
        hints=hints(
            {name: pair}, travels=[name] if is_travel(score.reference.unit) else [], settings=settings
        ),
    )
