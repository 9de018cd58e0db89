"""All steps of one pair: two signals read, conditioned, aligned and rated, with all intermediate results."""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from correlate.conditioning import Recipe, condition, pair_conditioned
from correlate.conditioning.offset import offset_flags
from correlate.display import brief, frame, row
from correlate.lazy import by_upper_layer
from correlate.metrics import evaluate_measures
from correlate.metrics.iso18571 import Rating, RatingSettings, rate
from correlate.metrics.repeats import align_repeats

if TYPE_CHECKING:
    from collections.abc import Sequence

    from pandas import DataFrame


    from correlate.flag import Flag
    from correlate.metrics import Evaluation
    from correlate.signal import Signal


@dataclass(frozen=True, slots=True, kw_only=True)
class PairScore:
    """The rating of a pair with all that made it.

    Attributes
    ----------
    rating
        Scores, settings, raw ingredients and the aligned pair.
    recipe
        How both signals were conditioned.
    reference, candidate
        The conditioned signals: unit, source, every step.
    """

    rating: Rating
    recipe: Recipe
    reference: Signal
    candidate: Signal

    def __repr__(self) -> str:
        """Say what was compared, and how well it agrees."""
        names = f"reference={brief(self.reference.channel)}, candidate={brief(self.candidate.channel)}"
        rated = f"overall={brief(self.rating.overall)}, grade={brief(self.rating.grade)}"
        return f"PairScore({names}, {rated})"

    @property
    def flags(self) -> tuple[Flag, ...]:
        """Warnings of the rating and of how both curves were conditioned."""
        return (*self.rating.flags, *offset_flags(self.reference), *offset_flags(self.candidate))

    def measures(
        self, names: Sequence[str], *, tests: Sequence[Signal], model: Signal
    ) -> tuple[Evaluation, ...]:
        """Evaluate further measures of the pair.

        Parameters
        ----------
        names
            Of the measures.
        tests
            The test as read, and the other repeats.
        model
            The model as read.

        Returns
        -------
        tuple of Evaluation

        Raises
        ------
        CorrelateError
            There is no measure of a name, or a repeat cannot be brought onto the grid of the pair.
        """
        pair = self.rating.pair
        if len(tests) == 1:
            return evaluate_measures(names, pair)
        interval = replace(self.recipe, start_s=float(pair.time[0]), end_s=float(pair.time[-1]))
        return evaluate_measures(names, pair, repeats=align_repeats(tests, [model], interval))

    def plot(self) -> Any:
        """Draw the pair: both curves in their corridors, and the corridor score of every sample.

        Returns
        -------
        plotly.graph_objects.Figure

        Raises
        ------
        MissingExtraError
            The extra 'report' is not installed.
        """
        return by_upper_layer("pair_figure")(self)

    def to_frame(self) -> DataFrame:
        """Return a data frame with one row: the channels, and the rating as `Rating.to_frame` gives it.

        Returns
        -------
        pandas.DataFrame

        Raises
        ------
        MissingExtraError
            The library pandas is not installed.
        """
        names = {"reference": self.reference.channel, "candidate": self.candidate.channel}
        return frame([{**names, **row(self.rating)}])


def score_pair(
    reference: Signal,
    candidate: Signal,
    *,
    recipe: Recipe | None = None,
    settings: RatingSettings | None = None,
) -> PairScore:
    """Condition, align and rate two signals as they were read.

    Parameters
    ----------
    reference
        The test.
    candidate
        The model, or another repeat.
    recipe
        Filter, interval, grid, signs; the whole overlap without a filter when left out.
    settings
        Of the rating; the published ones when left out.

    Returns
    -------
    PairScore

    Raises
    ------
    CorrelateError
        Whatever alignment or rating refuses, with both places named.
    """
    chosen = recipe or Recipe()
    unit = chosen.unit or reference.unit
    return score_conditioned(
        condition(reference, chosen.for_reference(unit)),
        condition(candidate, chosen.for_candidate(unit)),
        recipe=chosen,
        settings=settings,
    )


def score_conditioned(
    reference: Signal, candidate: Signal, *, recipe: Recipe, settings: RatingSettings | None = None
) -> PairScore:
    """Align and rate two signals that are conditioned already.

    Parameters
    ----------
    reference, candidate
        From :func:`correlate.conditioning.condition`, in one unit.
    recipe
        They were conditioned by.
    settings
        Of the rating; the published ones when left out.

    Returns
    -------
    PairScore

    Raises
    ------
    CorrelateError
        As for :func:`score_pair`.
    """
    aligned = pair_conditioned(reference, candidate, recipe)
    return PairScore(
        rating=rate(aligned.pair, settings),
        recipe=recipe,
        reference=aligned.reference,
        candidate=aligned.candidate,
    )
