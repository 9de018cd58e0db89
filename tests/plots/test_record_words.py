"""The record of a pair in words."""

from __future__ import annotations

import pytest

from correlate import RatingSettings, Step
from correlate.plots import choice_words, recipe_words, step_words
from tests.plots.scores import late_model


@pytest.mark.parametrize(
    ("step", "words"),
    [
        (Step("turn sign"), ("Turn sign", "")),
        (Step("shift time", {"by_s": -0.0012}), ("Shift time", "by −1.2 ms")),
        (Step("crop", {"start_s": 0.0, "end_s": 0.02}), ("Crop", "0 ms to 20 ms")),
        (
            Step("remove offset", {"start_s": -0.04, "end_s": -0.005, "offset": 0.25, "unit": "m/s^2"}),
            ("Remove offset", "−40 ms to −5 ms · offset 0.25 · unit m/s²"),
        ),
        (
            Step("convert unit", {"from": "m/s^2", "to": "g", "factor": 0.10197162}),
            ("Convert unit", "from m/s² · to g · factor 0.101972"),
        ),
        (Step("read", {"file": "a.csv", "channel": "x", "rows": 12}), ("Read", "rows 12")),
        (Step("limit", {"minus_6_db_hz": 4500.0}), ("Limit", "−6 dB at 4500 Hz")),
    ],
    ids=lambda value: value.name if isinstance(value, Step) else "",
)
def test_a_step_reads_like_words(step: Step, words: tuple[str, str]) -> None:
    """Times are in ms, units have raised powers, and what stands beside the history is not repeated."""
    assert step_words(step) == words


def test_the_recipe_names_what_was_used() -> None:
    """Filter, interval, step and corridors appear with their values."""
    score = late_model()
    words = dict(recipe_words(score.recipe, score.rating))
    assert words["Filter"] == "CFC 1000"
    assert words["Interval"] == "0 ms to 40 ms"
    assert words["Step"] == "0.1 ms, 401 samples"
    assert words["Corridors"] == "±5 % and ±50 % of the test’s peak"
    assert words["Weights"] == "corridor 0.4, phase 0.2, magnitude 0.2, slope 0.2"


def test_no_setting_of_the_rating_is_hidden() -> None:
    """Recipe and choices together show every setting: five in the recipe, the rest here."""
    assert len(choice_words(RatingSettings())) == len(RatingSettings().as_dict()) - 5
    assert ("Slope ends", "one-sided") in choice_words(RatingSettings())
