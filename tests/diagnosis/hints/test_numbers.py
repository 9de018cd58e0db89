"""Numbers of curves: each says what it is named for, and odd curves give numbers or none, never NaN."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate.diagnosis.hints.numbers import (
    LARGEST,
    curve_numbers,
    law_numbers,
    momentum_numbers,
    paths,
    scaled,
)

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

SAMPLE = np.arange(400.0)


def pulse(*, start: float = 100.0, length: float = 120.0, height: float = 1.0) -> Floats:
    """Return a half sine over samples."""
    return np.asarray(height * np.sin(np.pi * np.clip((SAMPLE - start) / length, 0.0, 1.0)))


WIDTH = 120.0 * 2.0 / 3.0
"""Duration of the half sine above half of its peak: from 30 to 150 degrees."""


def of(candidate: Floats) -> dict[str, float]:
    """Return the numbers of a model against the pulse."""
    found = curve_numbers(pulse(), candidate)
    assert found is not None
    return found


def test_a_pulse_is_described_by_peak_and_width() -> None:
    """A half sine of 120 samples is above half of its peak for 80."""
    one = scaled(pulse())
    assert one.top == 160
    assert one.width == pytest.approx(WIDTH, abs=0.1)


def test_a_pulse_that_is_cut_off_has_a_width() -> None:
    """It begins at the first sample and ends with the last one."""
    assert scaled(np.ones(5)).width == pytest.approx(4.0)


def test_a_higher_pulse_is_higher_and_nothing_else() -> None:
    """Peak and impulse grow as a logarithm; times stay."""
    found = of(1.2 * pulse())
    assert found["peak"] == pytest.approx(math.log(1.2))
    assert found["impulse"] == pytest.approx(math.log(1.2))
    assert found["net impulse"] == pytest.approx(0.2)
    assert found["by size"] == pytest.approx(0.2, abs=0.03)
    assert found["one-sidedness"] == pytest.approx(1.0)
    times = [value for name, value in found.items() if "through" in name or name == "time of peak"]
    assert times == pytest.approx([0.0] * len(times), abs=1e-9)


def test_a_late_pulse_is_late_and_nothing_else() -> None:
    """8 samples are a tenth of its width; at equal impulse nothing differs."""
    found = of(pulse(start=108.0))
    assert found["time of peak"] == pytest.approx(0.1, abs=0.001)
    assert found["rise through 0.1"] == pytest.approx(0.1, abs=0.001)
    assert found["fall through 0.9"] == pytest.approx(0.1, abs=0.001)
    assert found["duration"] == pytest.approx(0.0, abs=1e-9)
    assert found["peak"] == pytest.approx(0.0, abs=1e-9)
    assert found["by shift"] == pytest.approx(-0.1, abs=0.02)
    assert found["at impulse 0.5"] == pytest.approx(0.0, abs=1e-6)


def test_a_longer_pulse_is_longer() -> None:
    """By a half."""
    found = of(pulse(length=180.0))
    assert found["duration"] == pytest.approx(math.log(1.5), abs=0.001)
    assert found["impulse"] == pytest.approx(math.log(1.5), abs=0.001)


def test_a_pulse_that_is_kept_on_unloading_differs_there() -> None:
    """Loading is untouched."""
    back = np.where(SAMPLE > 160, 1.3, 1.0) * pulse()
    found = of(np.minimum(back, 1.0))
    assert found["unloading middle"] > 0.02
    assert found["loading middle"] == found["loading low"] == 0.0
    assert found["time of peak"] == pytest.approx(0.0, abs=0.01)


def test_what_comes_after_and_before_the_pulse_is_told() -> None:
    """A swing below zero, ringing, a dip before."""
    after = of(pulse() - 0.3 * pulse(start=230.0, length=50.0))
    assert after["rebound"] == pytest.approx(0.3, abs=0.01)
    late = pulse() + 0.2 * np.sin(SAMPLE) * (SAMPLE > 320)
    assert of(late)["late swings"] > 0.05
    assert of(late)["roughness"] > 1.0
    assert of(pulse() - 0.2 * pulse(start=10.0, length=50.0))["dip before"] == pytest.approx(0.2, abs=0.01)


def test_a_model_without_a_pulse_has_no_numbers() -> None:
    """Zero, of the other sign, or below a twentieth of the test's peak."""
    for factor in (0.0, -1.0, 0.04):
        assert curve_numbers(pulse(), factor * pulse()) is None
    assert curve_numbers(pulse(), 0.06 * pulse()) is not None
    assert curve_numbers(-pulse(), pulse()) is None


def law(force: Floats, travel: Floats, *, stiffer: float = 1.0, later: float = 0.0) -> dict[str, float]:
    """Return the numbers of a load against a travel, the model's load changed at equal travel."""
    model = stiffer * np.interp(travel - later * travel.max(), travel[: int(np.argmax(travel)) + 1], force)
    found = law_numbers((np.interp(travel, travel[: force.size], force), model), (travel, travel))
    assert found is not None
    return found


TRAVEL = pulse(start=100.0, length=200.0)
GOING = TRAVEL[: int(np.argmax(TRAVEL)) + 1]


def test_a_stiffer_law_has_more_load_at_every_travel() -> None:
    """By the same ratio; loop and travel stay."""
    found = law(GOING**1.5, TRAVEL, stiffer=1.25)
    ratios = [
        value for name, value in found.items() if name.startswith("load ratio at") and "0.1" not in name
    ]
    assert ratios == pytest.approx([math.log(1.25)] * len(ratios), abs=0.02)
    assert found["work"] == pytest.approx(math.log(1.25), abs=0.01)
    assert found["hardening"] == pytest.approx(0.0, abs=0.02)
    assert found["travel"] == pytest.approx(0.0)
    assert [abs(found[f"loop at {depth:g}"]) < 0.02 for depth in (0.25, 0.55, 0.85)] == [True] * 3


def test_a_gap_lets_the_load_begin_at_a_larger_travel() -> None:
    """By a tenth of the test's travel."""
    found = law(GOING, TRAVEL, later=0.1)
    assert found["travel at begin"] == pytest.approx(0.1, abs=0.02)
    assert found["law by shift"] < -0.05


def test_a_wider_loop_gives_less_work_back() -> None:
    """The model keeps half of the load on unloading, the test all of it."""
    force = np.interp(TRAVEL, GOING, GOING)
    back = np.where(SAMPLE > 200, 0.5, 1.0) * force
    found = law_numbers((force, back), (TRAVEL, TRAVEL))
    assert found is not None
    assert found["loop at 0.55"] == pytest.approx(0.275, abs=0.02)
    assert found["work returned"] == pytest.approx(-0.5, abs=0.05)
    assert found["work"] == pytest.approx(0.0, abs=0.01)


def test_a_law_that_hardens_differs_at_large_travel() -> None:
    """The ratio of the loads grows along the travel."""
    found = law_numbers((TRAVEL, TRAVEL + TRAVEL**6), (TRAVEL, TRAVEL))
    assert found is not None
    assert found["hardening"] > 0.3


def test_a_faster_travel_is_faster() -> None:
    """Twice as large in the same time."""
    found = law_numbers((TRAVEL, TRAVEL), (TRAVEL, 1.5 * TRAVEL))
    assert found is not None
    assert found["speed of travel"] == pytest.approx(math.log(1.5))
    assert found["travel"] == pytest.approx(math.log(1.5))


def test_a_law_without_a_pulse_has_no_numbers() -> None:
    """Either curve of the model is zero or of the other sign."""
    assert law_numbers((TRAVEL, 0 * TRAVEL), (TRAVEL, TRAVEL)) is None
    assert law_numbers((TRAVEL, TRAVEL), (TRAVEL, -TRAVEL)) is None


def test_a_larger_mass_needs_more_force_for_the_same_acceleration() -> None:
    """Every ratio says how much."""
    found = momentum_numbers((pulse(), 1.3 * pulse()), (pulse(), pulse()))
    for name in ("by areas", "by peaks", "by squares"):
        assert found[name] == pytest.approx(math.log(1.3))
    assert found["by slope"] == pytest.approx(0.3)


def test_a_force_and_an_acceleration_that_grow_alike_say_nothing_of_a_mass() -> None:
    """The impact was faster, the mass is the same."""
    found = momentum_numbers((pulse(), 1.3 * pulse()), (pulse(), 1.3 * pulse()))
    assert list(found.values()) == pytest.approx([0.0] * 4, abs=1e-9)


def test_a_path_follows_from_an_acceleration() -> None:
    """From rest, twice integrated: a constant acceleration gives a parabola; the test's peak is the unit."""
    test, model = paths(np.full(5, 4.0), np.full(5, 2.0), stopped=False)
    assert test.tolist() == [1.0, 3.0, 6.0, 10.0, 15.0]
    assert model.tolist() == pytest.approx((0.5 * test).tolist())


def test_the_path_of_a_stopped_rig_begins_with_its_speed() -> None:
    """It goes on until the rig stands, and back; a model that brakes more goes less far."""
    test, model = paths(-pulse(), -1.2 * pulse(), stopped=True)
    assert test[100] == model[100] == 0.0
    assert test.max() > model.max() > 0.0
    assert int(np.argmax(test)) > int(np.argmax(model)) > 160
    assert test[-1] < test.max()


def test_loads_of_a_test_that_rests_are_no_law() -> None:
    """A path can be zero throughout; nothing can be held against it."""
    rest = np.zeros(SAMPLE.size)
    assert law_numbers((pulse(), pulse()), (rest, TRAVEL)) is None
    assert law_numbers((rest, pulse()), (TRAVEL, TRAVEL)) is None


def numbers(test: Floats, model: Floats) -> list[float]:
    """Return all numbers that two curves have, as a curve, load and travel, path, and momentum."""
    momentum = momentum_numbers((test, model), (test, model))
    ways = [paths(test, model, stopped=stopped) for stopped in (True, False)]
    laws = [law_numbers((test, model), way) for way in ((test, model), *ways)]
    found = (curve_numbers(test, model), *laws, momentum)
    return [value for one in found for value in (one or {}).values()]


ODD = {
    "constant": np.ones(50),
    "zero": np.zeros(50),
    "all negative": -np.linspace(0.5, 1.0, 50),
    "falling": np.linspace(1.0, 0.0, 50),
    "rising": np.linspace(0.0, 1.0, 50),
    "one sample": np.eye(1, 50, 25)[0],
    "first sample": np.eye(1, 50, 0)[0],
    "last sample": np.eye(1, 50, 49)[0],
    "noise": np.random.default_rng(4).standard_normal(50),
    "huge": 1e9 * np.linspace(0.0, 1.0, 50),
}


@pytest.mark.parametrize("model", ODD)
@pytest.mark.parametrize("test", sorted(set(ODD) - {"zero"}))
def test_odd_curves_give_finite_numbers(test: str, model: str) -> None:
    """Whatever is rated may come: no NaN, no infinity, nothing beyond the cut."""
    found = numbers(ODD[test], ODD[model])
    assert np.isfinite(found).all()
    assert np.abs(found).max() <= LARGEST


@pytest.mark.parametrize("test", sorted(set(ODD) - {"zero"}))
def test_equal_curves_have_no_difference(test: str) -> None:
    """Every number is 0."""
    found = numbers(ODD[test], ODD[test])
    assert found == pytest.approx([0.0] * len(found), abs=1e-9)


CURVES = st.lists(st.floats(-1.0, 1.0).map(lambda value: round(value, 3)), min_size=4, max_size=40)


@settings(max_examples=60, deadline=None)
@given(both=st.tuples(CURVES, CURVES))
def test_any_curves_give_finite_numbers(both: tuple[list[float], list[float]]) -> None:
    """Also very short ones."""
    size = min(len(one) for one in both)
    test, model = (np.array(one[:size]) for one in both)
    test[size // 2] += 3.0
    found = numbers(test, model)
    assert np.isfinite(found).all()
    assert np.abs(found).max() <= LARGEST


@settings(max_examples=30, deadline=None)
@given(exponent=st.integers(-20, 20), sign=st.sampled_from([-1.0, 1.0]), seed=st.integers(0, 99))
def test_the_unit_does_not_matter(exponent: int, sign: float, seed: int) -> None:
    """Both curves times a factor give the same numbers; powers of two, so that rounding is the same."""
    rng = np.random.default_rng(seed)
    test, model = pulse() + 0.05 * rng.standard_normal((2, SAMPLE.size))
    factor = sign * 2.0**exponent
    assert numbers(factor * test, factor * model) == numbers(test, model)
