"""Everything about the repeats of one channel, and the model beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

from correlate.conditioning import Recipe, condition
from correlate.conditioning.align import AS_RECORDED
from correlate.display import short_repr
from correlate.reference.corridor import Corridor, Inside, inside_corridor, spread_corridor
from correlate.reference.repeatability import Ceiling, RatedAgainstRepeats, ceiling_of, rate_against_repeats
from correlate.reference.repeats import LARGEST_SHIFT_S, RepeatSet, repeat_set

if TYPE_CHECKING:
    from collections.abc import Sequence

    from correlate.metrics.iso18571 import RatingSettings
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
    ceiling
        Rating of the repeats against each other.
    corridor
        None with a single repeat.
    candidate
        The model, conditioned; None without one.
    model
        Its rating against every repeat.
    inside
        How much of it lies in the corridor.
    """

    load_case: str
    release: str
    repeats: RepeatSet
    ceiling: Ceiling
    corridor: Corridor | None
    candidate: Signal | None
    model: RatedAgainstRepeats | None
    inside: Inside | None


def channel_repeats(
    repeats: Sequence[Signal],
    candidate: Signal | None = None,
    *,
    recipe: Recipe = AS_RECORDED,
    settings: RatingSettings | None = None,
    times: float = 1.0,
    largest_shift_s: float = LARGEST_SHIFT_S,
    load_case: str = "",
    release: str = "",
) -> ChannelRepeats:
    """Learn from the repeats of one channel.

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
    times
        Half width of the corridor in standard deviations.
    largest_shift_s
        Bound of the alignment of the repeats, s. It serves mean and corridor; ratings are made without.
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
    aligned = repeat_set(repeats, recipe, largest_shift_s=largest_shift_s)
    corridor = spread_corridor(aligned, times=times) if len(aligned) > 1 else None
    model, treated, inside = None, None, None
    if candidate is not None:
        model = rate_against_repeats(repeats, candidate, recipe, settings)
        treated = condition(candidate, recipe.for_candidate(aligned.unit))
        inside = inside_corridor(corridor, treated) if corridor is not None else None
    return ChannelRepeats(
        load_case=load_case,
        release=release,
        repeats=aligned,
        ceiling=model.ceiling if model is not None else ceiling_of(repeats, recipe, settings),
        corridor=corridor,
        candidate=treated,
        model=model,
        inside=inside,
    )
