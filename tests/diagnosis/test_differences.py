"""Feature differences: what they cost, in which order, with which units and reasons."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.diagnosis.differences import FeatureDifference, feature_differences
from correlate.errors import SignalError
from correlate.metrics.iso18571 import rate
from correlate.pair import AlignedPair
from tests.diagnosis.features.test_corrections import TIME, curve, two_bumps

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def pair_of(test: Floats, model: Floats) -> AlignedPair:
    """Return both curves as a pair."""
    return AlignedPair(time=TIME, reference=test, candidate=model)


def named(found: tuple[FeatureDifference, ...]) -> dict[str, FeatureDifference]:
    """Return the differences by name."""
    return {one.name: one for one in found}


def test_a_low_model_is_explained_by_its_peak_alone() -> None:
    """Scaling a model that is 25 % low makes it perfect: its peak explains all that is lost."""
    pair = pair_of(curve(), 0.75 * curve())
    found = feature_differences(pair, unit="kN")
    lost = 1.0 - rate(pair).overall
    first = {one.name for one in found[:2]}
    assert first == {"peak", "impulse"}
    assert named(found)["peak"].explained == pytest.approx(lost, abs=1e-9)
    assert named(found)["peak"].relative == pytest.approx(-0.25)
    assert named(found)["peak"].difference == pytest.approx(25.0)


def test_a_late_model_is_explained_by_its_onset() -> None:
    """A model that is 6 ms late is nearly perfect once its onset is right, and a scaled peak wins nothing."""
    pair = pair_of(curve(), curve(start=0.026))
    found = feature_differences(pair)
    assert found[0].name == "onset time"
    assert found[0].difference == pytest.approx(0.006, abs=1e-4)
    assert found[0].explained == pytest.approx(1.0 - rate(pair).overall, abs=0.01)
    assert named(found)["peak"].explained == pytest.approx(0.0, abs=1e-6)


@pytest.mark.parametrize(
    ("wrong", "name"),
    [
        ({"decay": 2.0}, "tail damping ratio"),
        ({"frequency": 27.0}, "tail frequency"),
        ({"rise": 0.012, "start": 0.028}, "rise rate"),
        ({"fall": 0.045, "ring": 0.0}, "fall rate"),
    ],
)
def test_the_planted_difference_costs_most(wrong: dict[str, float], name: str) -> None:
    """A model with one wrong feature wins most by the correction of that feature."""
    assert feature_differences(pair_of(curve(ring=wrong.get("ring", 0.25)), curve(**wrong)))[0].name == name


def test_order_is_by_rating_won_and_the_untold_come_last() -> None:
    """Every number that was won stands before every None."""
    found = feature_differences(pair_of(curve(), curve(height=-80.0, rise=0.025, decay=5.0)))
    won = [one.explained for one in found]
    told = [one for one in won if one is not None]
    assert won == [*sorted(told, reverse=True), *[None] * (len(won) - len(told))]


def test_equal_curves_have_no_differences_to_explain() -> None:
    """A model equal to the test differs in nothing and wins nothing."""
    found = feature_differences(pair_of(curve(), curve()))
    assert {one.difference for one in found if one.difference is not None} == {0.0}
    assert {one.explained for one in found if one.explained is not None} == {0.0}


def test_units_follow_from_that_of_the_curve() -> None:
    """Rates are per second, the impulse is times seconds, times and shares keep their own unit."""
    found = named(feature_differences(pair_of(curve(), curve(height=-80.0)), unit="kN"))
    shown = {name: found[name].unit for name in ("peak", "rise rate", "impulse", "onset time", "rebound")}
    assert shown == {"peak": "kN", "rise rate": "kN/s", "impulse": "kN*s", "onset time": "s", "rebound": "1"}
    plain = named(feature_differences(pair_of(curve(), curve(height=-80.0))))
    assert [plain[name].unit for name in ("peak", "rise rate", "impulse")] == ["1", "1/s", "s"]


@pytest.mark.parametrize(
    ("unit", "rate", "impulse"),
    [("m/s^2", "m/s^3", "m/s"), ("m/s²", "m/s^3", "m/s"), ("rad/s", "rad/s^2", "rad"), ("g", "g/s", "g*s")],
)
def test_powers_of_the_second_are_put_together(unit: str, rate: str, impulse: str) -> None:
    """The time integral of an acceleration is a velocity; what has no second below the line stays."""
    found = named(feature_differences(pair_of(curve(), curve(height=-80.0)), unit=unit))
    assert (found["rise rate"].unit, found["impulse"].unit) == (rate, impulse)


def test_further_peaks_have_rows_when_both_curves_have_them() -> None:
    """The second peak is 15 ms late: its own row explains more than that of any other."""
    found = feature_differences(pair_of(two_bumps(0.12, 6.0), two_bumps(0.135, 6.0)))
    assert found[0].name == "peak 2 of 2, time"
    assert found[0].difference == pytest.approx(0.015, abs=1e-4)
    alone = feature_differences(pair_of(two_bumps(0.12, 6.0), two_bumps(0.12, 0.0)))
    assert [one.name for one in alone if one.name.startswith("peak 2")] == []
    assert named(alone)["number of peaks"].difference == -1.0


def test_hysteresis_needs_the_deflection() -> None:
    """With a deflection the loop is compared, without it the reason says so."""
    path = np.sin(np.pi * np.clip((TIME - 0.02) / 0.1, 0.0, 1.0))
    force = [np.where(TIME <= 0.07, path, (1.0 - lost) * path) for lost in (0.5, 0.1)]
    pair = pair_of(force[0], force[1])
    told = named(feature_differences(pair, deflection=pair_of(path, path)))["hysteresis"]
    assert told.difference == pytest.approx(-0.4, abs=0.01)
    assert told.explained is not None
    assert told.explained > 0.02
    untold = named(feature_differences(pair))["hysteresis"]
    assert untold.reason == "test and model: no deflection is given with the curve"


def test_only_one_side_without_a_feature_is_named() -> None:
    """A model that stops before it has fallen names the model in the reason."""
    held = np.where(TIME > 0.045, 0.95 * curve(ring=0.0).min(), curve())
    found = named(feature_differences(pair_of(curve(), held)))["fall rate"]
    assert (found.test is None, found.model is None) == (False, True)
    assert found.reason.startswith("model: the curve does not fall below 10 % of its peak")


def test_a_deflection_on_another_grid_is_refused() -> None:
    """Force and deflection must belong together sample by sample."""
    short = AlignedPair(time=TIME[:-5], reference=curve()[:-5], candidate=curve()[:-5])
    with pytest.raises(SignalError, match="force and deflection do not stand on one time grid"):
        feature_differences(pair_of(curve(), curve(height=-80.0)), deflection=short)
