"""A recipe is checked when it is written, not when it is used."""

from __future__ import annotations

from typing import Any

import pytest

from correlate.conditioning import Recipe
from correlate.errors import SettingsError, UnitError


def test_defaults_do_nothing_but_the_grid() -> None:
    """Without settings: 0.1 ms, no filter, everything else as recorded."""
    treatment = Recipe().for_candidate("kN")
    assert (treatment.unit, treatment.sign, treatment.offset_window_s) == ("kN", 1, None)
    assert (treatment.shift_s, treatment.cfc, treatment.step_s) == (0.0, None, 1e-4)


def test_sides_get_their_own_settings() -> None:
    """Sign, offset and shift belong to a side; unit, class and step to both."""
    recipe = Recipe(
        cfc=180,
        unit="N",
        step_s=1e-3,
        reference_offset_window_s=(-0.05, -0.01),
        candidate_sign=-1,
        candidate_shift_s=0.002,
    )
    reference, candidate = recipe.for_reference("kN"), recipe.for_candidate("kN")
    assert (reference.sign, reference.offset_window_s, reference.shift_s) == (1, (-0.05, -0.01), 0.0)
    assert (candidate.sign, candidate.offset_window_s, candidate.shift_s) == (-1, None, 0.002)
    for side in (reference, candidate):
        assert (side.unit, side.cfc, side.step_s) == ("N", 180, 1e-3)


@pytest.mark.parametrize(
    ("settings", "message"),
    [
        ({"cfc": 500}, "no channel frequency class 500; choose one of 60, 180, 600, 1000"),
        ({"step_s": 0.0}, "step_s is 0.0; give a number of seconds above zero"),
        ({"step_s": float("nan")}, "step_s is nan"),
        ({"start_s": float("inf")}, "start_s is inf; give a finite number"),
        ({"end_s": float("nan")}, "end_s is nan"),
        ({"start_s": 0.2, "end_s": 0.1}, "0.2 s to 0.1 s is not an interval"),
        ({"reference_sign": 0}, "reference_sign is 0; give 1, or -1 to turn the sign"),
        ({"candidate_sign": 2}, "candidate_sign is 2"),
        ({"reference_shift_s": float("nan")}, "reference_shift_s is nan"),
        ({"candidate_shift_s": float("inf")}, "candidate_shift_s is inf"),
        ({"reference_offset_window_s": (0.0, -0.1)}, "0 s to -0.1 s is not an interval"),
        ({"candidate_offset_window_s": (0.0,)}, "candidate_offset_window_s has 1 numbers"),
    ],
)
def test_wrong_settings_are_refused(settings: dict[str, Any], message: str) -> None:
    """Each with its name and what it may be."""
    with pytest.raises(SettingsError, match=message):
        Recipe(**settings)


def test_unknown_unit_is_refused() -> None:
    """The unit of the comparison must be one."""
    with pytest.raises(UnitError, match="the unit 'stone' is not known"):
        Recipe(unit="stone")
