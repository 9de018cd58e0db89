"""The repeats of one channel with a model: what is aligned, what is not, and what is compared."""

from __future__ import annotations

from functools import partial
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import Recipe
from correlate.evaluation.pairs import score_pair
from correlate.reference.channel_repeats import channel_repeats
from correlate.reference.corridor import prediction_corridor, range_corridor, spread_corridor
from correlate.reference.published_corridor import PublishedCorridor
from tests.reference.curves import pulse

if TYPE_CHECKING:
    from correlate import Signal

RECIPE = Recipe(start_s=0.0, end_s=0.05)
LATE_S = (-0.0012, -0.0004, 0.0, 0.0004, 0.0012)


def late_repeats() -> list[Signal]:
    """Return repeats that differ in time alone."""
    return [pulse(late_s=late_s) for late_s in LATE_S]


def test_inside_is_measured_where_the_rating_is() -> None:
    """The share inside is that of the curves that were rated, sample by sample, against each repeat."""
    repeats, model = late_repeats(), pulse(late_s=0.0008)
    found = channel_repeats(repeats, model, recipe=RECIPE, band=range_corridor)
    rated = [score_pair(one, model, recipe=RECIPE).rating.pair for one in repeats]
    tests = np.stack([pair.reference for pair in rated])
    candidate = rated[0].candidate
    inside = (candidate >= tests.min(axis=0) - 1e-9) & (candidate <= tests.max(axis=0) + 1e-9)
    assert found.inside is not None
    assert found.inside.share == pytest.approx(float(inside.mean()))
    assert found.inside.share > 0.9
    assert found.model is not None
    assert found.model.ratings == tuple(
        score_pair(one, model, recipe=RECIPE).rating.overall for one in repeats
    )


def test_a_repeat_as_model_is_inside_the_extremes() -> None:
    """Every repeat taken for a model lies inside; with aligned repeats, the late ones would be outside."""
    repeats = late_repeats()
    for one in repeats:
        found = channel_repeats(repeats, one, recipe=RECIPE, band=range_corridor)
        assert found.inside is not None
        assert found.inside.share == 1.0
    assert found.corridor is not None
    assert found.compared_with is not None
    assert (found.corridor.upper - found.corridor.lower).max() < 1e-9
    assert (found.compared_with.upper - found.compared_with.lower).max() > 10


def test_a_model_that_the_recipe_moves_is_compared_where_it_was_moved_to() -> None:
    """A time shift and a sign of the recipe count for rating and share alike."""
    repeats = late_repeats()
    model = pulse(late_s=0.003, size=-100.0)
    recipe = Recipe(start_s=0.0, end_s=0.05, candidate_shift_s=-0.003, candidate_sign=-1)
    moved = channel_repeats(repeats, model, recipe=recipe, band=range_corridor)
    assert moved.inside is not None
    assert moved.inside.share == 1.0


def test_alignment_does_not_change_what_is_compared() -> None:
    """Whatever the bounds of shifts and features, model and ratings stay as they are."""
    repeats, model = late_repeats(), pulse(size=104.0)
    bounds = [(0.0, 0.0), (0.002, 0.0), (0.002, 0.002)]
    found = [
        channel_repeats(repeats, model, recipe=RECIPE, largest_shift_s=shift_s, largest_feature_move_s=move_s)
        for shift_s, move_s in bounds
    ]
    assert len({one.inside.share for one in found if one.inside is not None}) == 1
    assert len({one.model.mean for one in found if one.model is not None}) == 1
    largest = [float(one.repeats.standard_deviation.max()) for one in found]
    assert largest[0] > 10 * largest[1]
    assert found[2].repeats.landmarks
    assert not found[1].repeats.landmarks


def test_the_picture_shows_what_the_share_is_about() -> None:
    """With a model, curves and corridor at the recorded times are drawn; without one, the aligned ones."""
    repeats = late_repeats()
    with_model = channel_repeats(repeats, pulse(), recipe=RECIPE)
    alone = channel_repeats(repeats, recipe=RECIPE)
    assert with_model.drawn == (with_model.recorded, with_model.compared_with)
    assert alone.drawn == (alone.repeats, alone.corridor)


def test_the_corridor_is_of_the_kind_that_is_asked_for() -> None:
    """Any function of repeats can make it."""
    repeats = [pulse(size=size) for size in (95, 100, 108)]
    for band in (partial(spread_corridor, times=3.0), range_corridor, prediction_corridor):
        found = channel_repeats(repeats, recipe=RECIPE, band=band)
        expected = band(found.repeats)
        assert found.corridor is not None
        assert found.corridor.kind == expected.kind
        assert (found.corridor.upper == expected.upper).all()


def test_a_published_corridor_takes_the_place_of_that_of_the_repeats() -> None:
    """Model and every repeat are compared with it; one repeat is enough."""
    band = PublishedCorridor(
        title="invented", source="none", unit="g", lower=((0, -1), (50, -1)), upper=((0, 98), (50, 98))
    )
    found = channel_repeats([pulse(size=90)], pulse(size=110), recipe=RECIPE, published=band)
    assert found.corridor is None
    assert found.compared_with is not None
    assert [one.share for one in found.repeats_inside] == [1.0]
    # 110 exp(-(t/6 ms)²) is above 98 for 2 · 6 ms · sqrt(ln(110/98)) of 50 ms.
    assert found.inside is not None
    assert found.inside.share == pytest.approx(1 - 12 * np.sqrt(np.log(110 / 98)) / 50, abs=2 / 500)
    assert found.drawn == (found.recorded, found.compared_with)


def test_an_unlike_repeat_is_named() -> None:
    """One much larger than six others of nearly one size."""
    repeats = [pulse(size=size) for size in (99, 100, 101, 100.5, 99.5, 100.2, 112)]
    found = channel_repeats(repeats, recipe=RECIPE)
    assert found.unlike is not None
    assert found.unlike.unlike() == (6,)
    assert channel_repeats(repeats[:2], recipe=RECIPE).unlike is None
