"""A channel of a release against every repeat of its test: mean of the ratings, and the curves of it."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from correlate.diagnosis.accounting import account_for_loss, mean_account
from correlate.diagnosis.what_if import apply_change
from correlate.display import short_repr
from correlate.errors import CorrelateError
from correlate.evaluation.case import typical_repeat
from correlate.metrics.iso18571 import Rating, grade_of, rate
from correlate.statistics import mean_of_repeats
from correlate.units import conversion_factor

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import NDArray

    from correlate.diagnosis.accounting import LossAccount
    from correlate.diagnosis.what_if import CurveChange
    from correlate.evaluation.case import CaseEvaluation, CasePair
    from correlate.evaluation.pairs import PairScore
    from correlate.evaluation.tables import Release
    from correlate.metrics.iso18571 import Grade, RatingSettings

    Floats = NDArray[np.float64]


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class MeanRating:
    """The mean of the ratings of a model against the repeats of a test; of one repeat, that rating itself.

    Attributes
    ----------
    ratings
        By the name of the repeat; at least one.
    """

    ratings: Mapping[str, Rating]

    @property
    def overall(self) -> float:
        """Mean overall rating, as the number of the channel on the scoreboard."""
        return self._mean("overall")

    @property
    def corridor(self) -> float:
        """Mean corridor score."""
        return self._mean("corridor")

    @property
    def phase(self) -> float:
        """Mean phase score."""
        return self._mean("phase")

    @property
    def magnitude(self) -> float:
        """Mean magnitude score."""
        return self._mean("magnitude")

    @property
    def slope(self) -> float:
        """Mean slope score."""
        return self._mean("slope")

    @property
    def shift_s(self) -> float:
        """Mean delay of the model, s; positive when it is late."""
        return self._mean("shift_s")

    @property
    def grade(self) -> Grade:
        """Word for the mean."""
        return grade_of(self.overall)

    @property
    def settings(self) -> RatingSettings:
        """Settings of the rating, equal for all repeats."""
        return next(iter(self.ratings.values())).settings

    @property
    def by_repeat(self) -> dict[str, float]:
        """Overall rating of each repeat."""
        return {name: one.overall for name, one in self.ratings.items()}

    def _mean(self, name: str) -> float:
        return mean_of_repeats([getattr(one, name) for one in self.ratings.values()])


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelRating:
    """A channel of a release, rated against one repeat of its test or against all of them.

    Attributes
    ----------
    scores
        By the name of the repeat; at least one.
    missing
        Why a repeat could not be rated, by its name.
    """

    scores: Mapping[str, PairScore]
    missing: Mapping[str, str] = field(default_factory=dict)

    @property
    def rating(self) -> MeanRating:
        """Mean of the ratings."""
        return MeanRating(ratings={name: one.rating for name, one in self.scores.items()})

    @property
    def typical(self) -> str:
        """The repeat whose rating is nearest to the mean."""
        return typical_repeat(self.rating.by_repeat)

    @property
    def shown(self) -> PairScore:
        """The pair with that repeat, for statements about a single pair."""
        return self.scores[self.typical]

    @property
    def first(self) -> PairScore:
        """The pair with the first repeat, in whose unit all curves are drawn."""
        return next(iter(self.scores.values()))

    @property
    def unit(self) -> str:
        """Unit of all curves."""
        return self.first.reference.unit

    @property
    def time(self) -> Floats:
        """Time grid of all pairs, s."""
        return self.first.rating.pair.time

    @property
    def tests(self) -> dict[str, Floats]:
        """Curve of each repeat, in `unit`."""
        return {name: self._factor(one) * one.rating.pair.reference for name, one in self.scores.items()}

    @property
    def test(self) -> Floats:
        """Mean of the repeats, in `unit`."""
        return np.asarray(np.mean(list(self.tests.values()), axis=0))

    @property
    def model(self) -> Floats:
        """Curve of the model, in `unit`."""
        return self.first.rating.pair.candidate

    def half_width(self, corridor: str) -> float:
        """Return the mean half width of the ``inner`` or ``outer`` corridor, in `unit`."""
        widths = [
            self._factor(one) * getattr(one.rating.ingredients.corridor, f"{corridor}_half_width")
            for one in self.scores.values()
        ]
        return mean_of_repeats(widths)

    def account(self) -> LossAccount:
        """Share the mean loss out over components and samples."""
        return mean_account([account_for_loss(one.rating) for one in self.scores.values()])

    def changed(self, change: CurveChange) -> MeanRating:
        """Rate every repeat after a change of the model's curve, whose offset is in `unit`."""
        return MeanRating(ratings={name: self._changed(one, change) for name, one in self.scores.items()})

    def _changed(self, score: PairScore, change: CurveChange) -> Rating:
        rating = score.rating
        moved = apply_change(
            rating.pair,
            shift_s=change.shift_s,
            scale=change.scale,
            offset=change.offset / self._factor(score),
            stretch=change.stretch,
        )
        return rate(moved, rating.settings)

    def _factor(self, score: PairScore) -> float:
        """Return what turns values of a pair into `unit`: laboratories may differ in theirs."""
        return conversion_factor(score.reference.unit, self.unit)


def channel_pairs(
    case: CaseEvaluation, release: Release, channel: str, repeat: str = ""
) -> dict[str, CasePair]:
    """Return the pairs of a channel, by the name of the repeat.

    Parameters
    ----------
    case
        Its load case.
    release, channel
        As for :meth:`CaseEvaluation.pair`.
    repeat
        The only one that is wanted; all of them when empty.

    Returns
    -------
    dict

    Raises
    ------
    SettingsError
        The load case has no such channel or repeat.
    """
    names = [repeat] if repeat else list(case.references(channel))
    return {name: case.pair(release, channel, name) for name in names}


def channel_rating(pairs: Mapping[str, CasePair]) -> ChannelRating:
    """Rate a channel against its repeats, as scoring does; a repeat that cannot be rated is named.

    Parameters
    ----------
    pairs
        From :func:`channel_pairs`.

    Returns
    -------
    ChannelRating

    Raises
    ------
    CorrelateError
        No repeat can be rated: why not the first.
    """
    scores: dict[str, PairScore] = {}
    refused: dict[str, CorrelateError] = {}
    for name, pair in pairs.items():
        try:
            scores[name] = pair.score()
        except CorrelateError as error:
            refused[name] = error
    if not scores:
        raise next(iter(refused.values()))
    return ChannelRating(scores=scores, missing={name: str(error) for name, error in refused.items()})
