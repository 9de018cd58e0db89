"""The rating on a page."""

from __future__ import annotations

import pytest

from correlate import ChannelRating
from dashboard.components.pair_verdict import details, ruler, verdict
from tests.dashboard.reading import parts, text
from tests.plots.scores import late_model


def of_one() -> ChannelRating:
    """Return the late model against one repeat."""
    return ChannelRating(scores={"T1": late_model()})


def test_the_needle_stands_at_the_rating() -> None:
    """Its place on the ruler is the rating as a share of the width."""
    rating = of_one().rating
    needle = next(part for part in parts(ruler(rating)) if getattr(part, "className", "") == "needle")
    assert float(needle.style["left"].rstrip("%")) == pytest.approx(100 * rating.overall, abs=0.01)


def test_the_reached_grade_is_marked_and_said() -> None:
    """One zone is marked, and the ruler says number and word to a screen reader."""
    rating = of_one().rating
    scale = ruler(rating)
    reached = [part for part in parts(scale) if "reached" in (getattr(part, "className", "") or "")]
    assert [text(part).split()[0] for part in reached] == [rating.grade]
    assert getattr(scale, "aria-label") == f"{rating.overall:.3f} on the scale from 0 to 1: {rating.grade}"


def test_bars_are_as_long_as_their_scores() -> None:
    """Each bar has the score beside it as its width."""
    rated = of_one()
    rating = rated.rating
    bars = [
        part for part in parts(verdict(rated)) if (getattr(part, "style", None) or {}).keys() == {"width"}
    ]
    widths = [float(bar.style["width"].rstrip("%")) for bar in bars]
    scores = [rating.corridor, rating.phase, rating.magnitude, rating.slope]
    assert widths == pytest.approx([100 * score for score in scores], abs=0.01)


def test_the_result_is_announced() -> None:
    """Number, word and shift are in a part that a screen reader announces when it changes."""
    status = next(part for part in parts(verdict(of_one())) if getattr(part, "role", "") == "status")
    assert "model 1.2 ms late" in text(status)


def test_every_repeat_has_its_row_and_its_tick() -> None:
    """Each is rated, with its difference from the mean, and leads to its own page; the mean leads nowhere."""
    scores = {"T1": late_model(), "T2": late_model(late_s=0.004)}
    rated = ChannelRating(scores=scores)
    made = details(rated, {"T1": "/pair?repeat=T1", "T2": "/pair?repeat=T2"})
    links = {text(part): part.href for part in parts(made) if getattr(part, "href", None)}
    assert links == {"T1": "/pair?repeat=T1", "T2": "/pair?repeat=T2"}
    said = text(made)
    for score in scores.values():
        assert f"{score.rating.overall:.3f}" in said
    ticks = [part for part in parts(made) if getattr(part, "className", "") == "repeat-tick"]
    places = [float(tick.style["left"].rstrip("%")) for tick in ticks]
    assert places == pytest.approx([100 * one.rating.overall for one in scores.values()], abs=0.01)


def test_a_mean_of_fewer_repeats_says_so() -> None:
    """A repeat that cannot be rated is named beside the number, with its reason below."""
    rated = ChannelRating(scores={"T1": late_model()}, missing={"T2": "there is no channel 'x'"})
    assert "Mean of 1 of 2 repeats: T2 cannot be rated." in text(verdict(rated))
    assert "there is no channel 'x'" in text(details(rated, {}))
