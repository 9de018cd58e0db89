"""The rating on a page."""

from __future__ import annotations

import pytest

from dashboard.components.pair_reasons import ruler, verdict
from tests.dashboard.reading import parts, text
from tests.plots.scores import late_model


def test_the_needle_stands_at_the_rating() -> None:
    """Its place on the ruler is the rating as a share of the width."""
    rating = late_model().rating
    needle = next(part for part in parts(ruler(rating)) if getattr(part, "className", "") == "needle")
    assert float(needle.style["left"].rstrip("%")) == pytest.approx(100 * rating.overall, abs=0.01)


def test_the_reached_grade_is_marked_and_said() -> None:
    """One zone is marked, and the ruler says number and word to a screen reader."""
    rating = late_model().rating
    scale = ruler(rating)
    reached = [part for part in parts(scale) if "reached" in (getattr(part, "className", "") or "")]
    assert [text(part).split()[0] for part in reached] == [rating.grade]
    assert getattr(scale, "aria-label") == f"{rating.overall:.3f} on the scale from 0 to 1: {rating.grade}"


def test_bars_are_as_long_as_their_scores() -> None:
    """Each bar has the score beside it as its width."""
    score = late_model()
    rating = score.rating
    bars = [
        part for part in parts(verdict(score)) if (getattr(part, "style", None) or {}).keys() == {"width"}
    ]
    widths = [float(bar.style["width"].rstrip("%")) for bar in bars]
    scores = [rating.corridor, rating.phase, rating.magnitude, rating.slope]
    assert widths == pytest.approx([100 * score for score in scores], abs=0.01)


def test_the_result_is_announced() -> None:
    """Number, word and shift are in a part that a screen reader announces when it changes."""
    status = next(part for part in parts(verdict(late_model())) if getattr(part, "role", "") == "status")
    assert "model 1.2 ms late" in text(status)
