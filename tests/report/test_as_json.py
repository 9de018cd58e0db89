"""The JSON object of a pair."""

from __future__ import annotations

import json

import numpy as np

from correlate import RatingSettings, Recipe, Signal, score_pair
from correlate.report.pair import pair_json, pair_object


def constant_candidate() -> dict[str, object]:
    """Rate a pulse against a constant: its correlation is minus infinity."""
    time = np.arange(400) * 1e-4
    test = np.sin(np.pi * np.clip((time - 0.01) / 0.02, 0, 1))
    reference = Signal(samples=test, start_s=0.0, step_s=1e-4, unit="g", channel="a")
    candidate = Signal(samples=np.ones(400), start_s=0.0, step_s=1e-4, unit="g", channel="b")
    found: dict[str, object] = json.loads(pair_json(score_pair(reference, candidate)))
    return found


def test_numbers_that_are_not_finite_become_null() -> None:
    """JSON knows no infinity: the correlation of a flat curve is null."""
    found = constant_candidate()
    ingredients = found["ingredients"]
    assert isinstance(ingredients, dict)
    assert ingredients["phase"]["correlation"] is None


def test_recipe_and_settings_can_be_read_back() -> None:
    """What the object says of conditioning and rating makes the same recipe and settings again."""
    time = np.arange(400) * 1e-4
    signal = Signal(samples=np.sin(200 * time), start_s=0.0, step_s=1e-4, unit="g", channel="a")
    recipe = Recipe(cfc=180, start_s=0.005, end_s=0.03)
    found = pair_object(score_pair(signal, signal, recipe=recipe))
    assert Recipe(**found["settings"]["conditioning"]) == recipe
    plain = found["settings"]["rating"]
    assert plain == RatingSettings().as_dict()
