"""Single mistakes whose answer is known by construction, one for each kind, and pairs without any."""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pytest

from correlate import CorrelateError, Recipe, Signal, align, rate
from correlate.conditioning import filter_cfc
from correlate.diagnosis.suspects import sensor_suspects, suspects
from tests.diagnosis.suspects.planting import low_pass

TIME = np.arange(-1000, 3001) * 5e-5
RECIPE = Recipe(cfc=180, start_s=0.0, end_s=0.09)
Floats = np.ndarray[tuple[int], np.dtype[np.float64]]


def pulse(late_s: float = 0.0, slow: float = 1.0) -> Floats:
    """Return a pulse of 30 ms with a rebound of half its size."""
    x = (TIME - late_s) / (0.03 * slow)
    return np.asarray(
        np.sin(np.pi * np.clip(x, 0, 1)) ** 2 - 0.5 * np.sin(np.pi * np.clip(x - 1.1, 0, 1)) ** 2
    )


def signal(samples: Floats, unit: str = "g", channel: str = "head ax", noise: float = 0.0) -> Signal:
    """Return samples as a signal, noise of a fixed seed added."""
    random = np.random.default_rng(8)
    noisy = samples + noise * random.standard_normal(samples.size)
    return Signal(samples=noisy, start_s=float(TIME[0]), step_s=5e-5, unit=unit, channel=channel)


TEST = signal(40 * pulse(), noise=0.1)


def test_a_good_model_and_an_honest_poor_one_are_not_accused() -> None:
    """Ten per cent too large, or twice too large, late by 5 ms and slow by a third: no suspect."""
    assert suspects(TEST, signal(44 * pulse()), RECIPE) == ()
    assert suspects(TEST, signal(80 * pulse(0.005, 1.33)), RECIPE) == ()


def test_turned_sign() -> None:
    """The fix is the other sign, and the rating after it is what the recipe with that sign gives."""
    model = signal(-38 * pulse())
    found = suspects(TEST, model, RECIPE)
    assert [one.kind for one in found] == ["sign turned"]
    assert dict(found[0].change) == {"candidate_sign": -1}
    assert found[0].rating_before == rate(align(TEST, model, RECIPE)).overall
    assert found[0].rating_after == pytest.approx(
        rate(align(TEST, model, replace(RECIPE, candidate_sign=-1))).overall, abs=1e-12
    )
    assert "model_sign = -1" in found[0].fix


def test_a_sign_turned_by_the_recipe_is_turned_back() -> None:
    """Where the recipe turns a sign that was right, the fix is 1."""
    found = suspects(TEST, signal(40 * pulse()), replace(RECIPE, candidate_sign=-1))
    assert dict(found[0].change) == {"candidate_sign": 1}


@pytest.mark.parametrize(
    ("unit", "factor", "meant"),
    [
        ("g", 9.80665, "m/s^2"),
        ("N", 1 / 1000, "kN"),
        ("N", 1 / 4.4482216152605, "lbf"),
        ("mm", 1 / 25.4, "in"),
        ("deg", np.pi / 180, "rad"),
    ],
)
def test_wrong_unit(unit: str, factor: float, meant: str) -> None:
    """Values in another unit than the file says: the unit they are in is named (exact factors)."""
    found = suspects(signal(40 * pulse(), unit), signal(44 * factor * pulse(), unit), RECIPE)
    assert [one.kind for one in found] == ["unit wrong"]
    assert found[0].change["candidate_unit"] == meant
    assert f'model_unit = "{meant}"' in found[0].fix


def test_kilograms_force_and_pounds_force() -> None:
    """A factor of 2.2046 is believed only when all else fits, because a poor model may be twice too large."""
    test = signal(40 * pulse(), "N")
    assert [one.kind for one in suspects(test, signal(2.2046 * 40 * pulse(), "N"), RECIPE)] == ["unit wrong"]
    assert suspects(test, signal(1.8 * 40 * pulse(), "N"), RECIPE) == ()


def test_other_axis() -> None:
    """The axis that fits is named, with its sign."""
    swing = np.where(TIME > 0, np.sin(2 * np.pi * 35 * TIME) * np.exp(-15 * TIME), 0.0)
    others = {"head az": signal(-39 * pulse(), channel="head az"), "head ay": signal(9 * swing)}
    found = suspects(TEST, signal(30 * swing), RECIPE, other_axes=others)
    assert found[0].kind == "other axis"
    assert found[0].change["candidate_channel"] == "head az"
    assert found[0].change["candidate_sign"] == -1


@pytest.mark.parametrize("late_ms", [-40, 25])
def test_time_zero_off(late_ms: int) -> None:
    """A model whose clock starts elsewhere is to be moved back by just that."""
    found = suspects(TEST, signal(40 * pulse(late_ms / 1000)), RECIPE)
    assert found[0].kind == "time zero off"
    assert found[0].change["candidate_shift_s"] == pytest.approx(-late_ms / 1000, abs=3e-4)


def test_interval_cuts_the_main_pulse() -> None:
    """An interval that ends at the top of the pulse is widened to hold all of it."""
    found = suspects(TEST, signal(40 * pulse()), replace(RECIPE, end_s=0.015))
    assert [one.kind for one in found] == ["interval cuts the main pulse"]
    assert found[0].change["end_s"] > 0.03
    assert "interval_ms" in found[0].fix


def test_filters_told_by_the_spectrum() -> None:
    """Filtered before with the class of the recipe, with a lower one, or with a recipe that has none."""
    model = signal(40 * pulse(), noise=0.2)
    kinds = [
        [one.kind for one in suspects(low_pass(TEST, before), model, replace(RECIPE, cfc=cfc))]
        for before, cfc in ((180, 180), (180, 600), (180, None))
    ]
    assert kinds == [["filtered twice"], ["other filter class"], ["not filtered"]]


def test_filters_told_by_the_history() -> None:
    """A history that holds the class is believed, even where there is no noise to tell."""
    found = suspects(TEST, filter_cfc(signal(40 * pulse()), 180), RECIPE)
    assert [one.kind for one in found] == ["filtered twice"]
    assert "its history says" in found[0].evidence


def test_a_turned_frame_of_a_sensor() -> None:
    """A sensor turned by 50 degrees about y is turned back; the single axes are not accused."""
    swing = np.where(TIME > 0, np.sin(2 * np.pi * 35 * TIME) * np.exp(-15 * TIME), 0.0)
    rows = (40 * pulse(), 6 * pulse(0.002, 1.4), 25 * swing)
    angle = np.deg2rad(50)
    x = np.cos(angle) * rows[0] - np.sin(angle) * rows[2]
    z = np.sin(angle) * rows[0] + np.cos(angle) * rows[2]
    names = ("head ax", "head ay", "head az")
    reference = [signal(row, channel=name) for row, name in zip(rows, names, strict=True)]
    candidate = [signal(row, channel=name) for row, name in zip((x, rows[1], z), names, strict=True)]
    found = sensor_suspects(reference, candidate, RECIPE)
    assert [one.kind for one in found] == ["local frame turned"]
    assert np.degrees(found[0].change["rotation_vector_rad"]) == pytest.approx([0, 50, 0], abs=1e-6)
    assert found[0].rating_after > 0.99


def test_a_sensor_needs_three_axes() -> None:
    """Two axes are refused."""
    with pytest.raises(CorrelateError, match="2 reference axes"):
        sensor_suspects([TEST, TEST], [TEST, TEST], RECIPE)


def test_a_suspect_can_be_pickled() -> None:
    """Suspects cross process borders unchanged."""
    found = suspects(TEST, signal(-38 * pulse()), RECIPE)
    assert pickle.loads(pickle.dumps(found)) == found  # noqa: S301 - our own bytes
