"""The repeats of one channel: scatter, ceiling, corridor, and a model or published corridor against them."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.conditioning import condition
from correlate.conditioning.align import AS_RECORDED
from correlate.display import short_repr
from correlate.reference.corridor import Corridor, Inside, inside_corridor, spread_corridor
from correlate.reference.registration import registered_by_features
from correlate.reference.repeatability import Ceiling, RatedAgainstRepeats, ceiling_of, rate_against_repeats
from correlate.reference.repeats import LARGEST_SHIFT_S, RepeatSet, repeat_set
from correlate.reference.whole_curve import UnlikeRepeats, unlike_repeats

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from correlate.conditioning import Recipe
    from correlate.metrics.iso18571 import RatingSettings
    from correlate.reference.published_corridor import PublishedCorridor
    from correlate.signal import Signal


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class ChannelRepeats:
    """The repeats of one channel with their scatter, ceiling and corridor, and a model against them.

    Attributes
    ----------
    load_case, release
        Names, for tables; empty where there are none.
    repeats
        Conditioned and aligned.
    recorded
        The same at their recorded times, as they are rated.
    ceiling
        Rating of the repeats against each other.
    unlike
        Test of each repeat, as recorded, against the others; None with fewer than three.
    corridor
        Of the aligned repeats; None with a single one.
    compared_with
        What `candidate` and `published` are about: the published corridor, else that of the repeats at their
        recorded times. Ratings move neither repeats nor model in time, and so does the share inside. None
        with a single repeat and no published corridor.
    repeats_inside
        How much of each repeat lies in a published corridor; empty without one.
    candidate
        The model, conditioned; None without one.
    model
        Its rating against every repeat.
    inside
        How much of it lies in `compared_with`.
    """

    load_case: str
    release: str
    repeats: RepeatSet
    recorded: RepeatSet
    ceiling: Ceiling
    unlike: UnlikeRepeats | None
    corridor: Corridor | None
    compared_with: Corridor | None
    repeats_inside: tuple[Inside, ...]
    candidate: Signal | None
    model: RatedAgainstRepeats | None
    inside: Inside | None

    @property
    def drawn(self) -> tuple[RepeatSet, Corridor | None]:
        """Curves and corridor of one figure: as recorded where something is compared, else aligned."""
        if self.candidate is not None or self.repeats_inside:
            return self.recorded, self.compared_with
        return self.repeats, self.corridor


def channel_repeats(
    repeats: Sequence[Signal],
    candidate: Signal | None = None,
    *,
    recipe: Recipe = AS_RECORDED,
    settings: RatingSettings | None = None,
    band: Callable[[RepeatSet], Corridor] = spread_corridor,
    published: PublishedCorridor | None = None,
    largest_shift_s: float = LARGEST_SHIFT_S,
    largest_feature_move_s: float = 0.0,
    load_case: str = "",
    release: str = "",
) -> ChannelRepeats:
    """Compute scatter, ceiling and corridor of the repeats of one channel.

    Parameters
    ----------
    repeats
        As recorded; at least one.
    candidate
        The model, or None.
    recipe
        Conditioning of both.
    settings
        Of the ratings.
    band
        Makes the corridor of two repeats or more, for instance :func:`spread_corridor` or
        :func:`prediction_corridor`.
    published
        Corridor that repeats and model are compared with in its place; None for none.
    largest_shift_s, largest_feature_move_s
        Bounds of the alignment of the repeats, by shifts and then by features, s; 0 for none. It serves mean,
        scatter and corridor; ratings and the share inside are made without.
    load_case, release
        Names, for tables.

    Returns
    -------
    ChannelRepeats

    Raises
    ------
    SignalError, UnitError, SettingsError
        See the parts.
    """
    recorded = repeat_set(repeats, recipe, largest_shift_s=0.0)
    aligned = repeat_set(repeats, recipe, largest_shift_s=largest_shift_s)
    if largest_feature_move_s:
        aligned = registered_by_features(aligned, largest_feature_move_s)
    several = len(aligned) > 1
    compared_with = band(recorded) if several else None
    if published is not None:
        compared_with = published.corridor(recorded.time_s, unit=recorded.unit, channel=recorded.channel)
    model, treated, inside = None, None, None
    if candidate is not None:
        model = rate_against_repeats(repeats, candidate, recipe, settings)
        treated = condition(candidate, recipe.for_candidate(aligned.unit))
        inside = None if compared_with is None else inside_corridor(compared_with, treated)
    return ChannelRepeats(
        load_case=load_case,
        release=release,
        repeats=aligned,
        recorded=recorded,
        ceiling=model.ceiling if model is not None else ceiling_of(repeats, recipe, settings),
        unlike=unlike_repeats(recorded),
        corridor=band(aligned) if several else None,
        compared_with=compared_with,
        repeats_inside=_inside_published(recorded, compared_with) if published is not None else (),
        candidate=treated,
        model=model,
        inside=inside,
    )


def _inside_published(recorded: RepeatSet, corridor: Corridor | None) -> tuple[Inside, ...]:
    return () if corridor is None else tuple(inside_corridor(corridor, one) for one in recorded.signals)
