"""The words that pictures, pages and reports share."""

from __future__ import annotations

from correlate.plots import COMPONENTS, filter_words, grade_zones
from tests.plots.scores import late_model


def test_grades_fill_the_scale() -> None:
    """The zones run from 0 to 1 without a gap, with the limits of ISO/TS 18571:2014 (from memory)."""
    assert grade_zones() == [
        ("poor", 0.0, 0.58),
        ("fair", 0.58, 0.80),
        ("good", 0.80, 0.94),
        ("excellent", 0.94, 1.0),
    ]


def test_every_component_has_words() -> None:
    """The four scores are named as the rating names them."""
    rating = late_model().rating
    assert [hasattr(rating, name) for name in COMPONENTS] == [True] * 4


def test_no_filter_has_a_word() -> None:
    """Nothing filtered is said, not left empty."""
    assert filter_words(None) == "no filter"
    assert filter_words(60) == "CFC 60"
