"""All criteria of a recording: which channels serve, what is left out and why, comparison with a model."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import Step
from correlate.conditioning import filter_cfc, resultant
from correlate.criteria import (
    ExceedanceResult,
    Preparation,
    compare_recorded,
    find_device,
    nij,
    recorded_criteria,
)
from tests.criteria.recordings import AXIAL, HEAD, MOMENT, SHEAR, STEP_S, STERNUM, of_record, recording
from tests.demo_pairs.measuring import records
from tests.oracles import criteria_literal as literal

if TYPE_CHECKING:
    from correlate.criteria import RecordedCriteria, RecordedCriterion

MALE = find_device("adult male")
TIME = np.arange(2001) * STEP_S
BUMP = np.exp(-(((TIME - 0.05) / 0.004) ** 2))


def entry(found: RecordedCriteria, name: str) -> RecordedCriterion:
    """Return the one entry of a criterion."""
    (one,) = [entry for entry in found.entries if entry.criterion.name == name]
    return one


def test_head_criteria_are_those_of_the_filtered_resultant() -> None:
    """Three axes are filtered with CFC 1000, combined, and every window is tried."""
    axes = {
        f"{HEAD}{axis}P": (factor * BUMP, "m/s^2") for axis, factor in (("X", 900), ("Y", 50), ("Z", -400))
    }
    data = recording(axes)
    found = recorded_criteria(data, MALE)
    curve = resultant(*(filter_cfc(signal.in_unit("g"), 1000) for signal in data.signals)).samples
    middle = curve[700:1301].tolist()
    one = entry(found, "HIC15")
    assert one.value == pytest.approx(literal.hic(middle, STEP_S, 0.015), rel=1e-9)
    assert one.start_s is not None
    assert 0.04 < one.start_s < 0.05
    assert entry(found, "head peak acceleration").value == pytest.approx(float(curve.max()))
    assert [step.name for step in one.signals[0].history] == ["convert unit", "filter", "resultant"]


def test_a_recorded_resultant_serves_where_axes_are_missing() -> None:
    """A channel of direction R stands for the three axes."""
    found = recorded_criteria(recording({f"{HEAD}RP": (90 * BUMP, "g")}), MALE)
    assert entry(found, "severity index").value is not None
    held = 90 * np.exp(-((0.0015 / 0.004) ** 2))
    assert entry(found, "head 3 ms clip, cumulative").value == pytest.approx(held, rel=1e-3)


def test_missing_axes_are_named() -> None:
    """One axis alone gives no head criterion; the message names the other two."""
    one = entry(recorded_criteria(recording({f"{HEAD}ZP": (BUMP, "g")}), MALE), "HIC15")
    assert one.value is None
    assert one.reason == "no channel D0HEAD0000KMACX?, D0HEAD0000KMACY?"


def test_nij_uses_the_moment_about_the_occipital_condyle() -> None:
    """The load cell's moment is transferred by 17.78 mm before the criterion is taken."""
    curves = {MOMENT: (80 * BUMP, "Nm"), SHEAR: (-1000 * BUMP, "N"), AXIAL: (1500 * BUMP, "N")}
    data = recording(curves)
    moment, shear, axial = (filter_cfc(signal, 600).samples for signal in data.signals)
    expected = nij(axial, moment - 0.01778 * shear, step_s=STEP_S).value
    assert entry(recorded_criteria(data, MALE), "Nij").value == pytest.approx(expected, rel=1e-12)


def test_deflection_is_positive_when_the_sternum_is_pushed_in() -> None:
    """A negative displacement of the sternum is a compression."""
    found = recorded_criteria(recording({STERNUM: (-42.0 * BUMP, "mm")}), MALE)
    assert entry(found, "chest deflection").value == pytest.approx(42.0, abs=0.1)


def test_each_place_has_its_own_entry() -> None:
    """Two femurs are two entries."""
    both = recording({"D0FEMRLE00KMFOZP": (-4e3 * BUMP, "N"), "D0FEMRRI00KMFOZP": (-6e3 * BUMP, "N")})
    found = [one for one in recorded_criteria(both, MALE).entries if one.criterion.name == "femur force"]
    assert {one.place: round(one.value or 0, -2) for one in found} == {
        "D0FEMRLE00KM": 4000.0,
        "D0FEMRRI00KM": 6000.0,
    }


def test_the_interval_limits_what_is_looked_at() -> None:
    """A second, larger push after the interval does not count, and times are those of the data."""
    late = np.exp(-(((TIME - 0.08) / 0.004) ** 2))
    data = recording({STERNUM: (-40.0 * BUMP - 70.0 * late, "mm")}, start_s=-0.01)
    found = entry(recorded_criteria(data, MALE, preparation=Preparation(end_s=0.05)), "chest deflection")
    assert found.value == pytest.approx(40.0, abs=0.1)
    assert found.start_s == pytest.approx(0.04, abs=2 * STEP_S)


def test_constants_of_another_size_or_none() -> None:
    """The same neck load weighs more on a small neck; a size without constants says so."""
    data = recording(
        {
            MOMENT: (40 * BUMP, "Nm"),
            SHEAR: (0 * BUMP, "N"),
            AXIAL: (1500 * BUMP, "N"),
            STERNUM: (-40 * BUMP, "mm"),
        }
    )
    child = recorded_criteria(data, find_device("6 years"))
    adult = recorded_criteria(data, MALE)
    assert (entry(child, "Nij").value or 0) > 2 * (entry(adult, "Nij").value or 9)
    missing = entry(child, "viscous criterion")
    assert missing.reason == "there are no constants of the viscous criterion for 'child, 6 years'"


def test_a_rate_too_low_for_the_class_is_a_reason() -> None:
    """2 kHz cannot carry CFC 1000."""
    data = recording({f"{HEAD}RP": (BUMP, "g")})
    thinned = data.signals[0].then(Step("thin out"), samples=BUMP[::10], step_s=10 * STEP_S)
    found = recorded_criteria(replace(data, signals=(thinned,)), MALE)
    assert "too few for CFC 1000" in entry(found, "HIC15").reason


def test_comparison_of_repeats_and_model() -> None:
    """The model is compared with the mean and deviation of the repeats; what one lacks is left out."""
    repeats = [recorded_criteria(recording({STERNUM: (-d * BUMP, "mm")}), MALE) for d in (39.0, 40.0, 41.0)]
    model = recorded_criteria(
        recording({STERNUM: (-43.0 * BUMP, "mm"), "D0FEMRLE00KMFOZP": (-4e3 * BUMP, "N")}), MALE
    )
    found = {one.name: one for one in compare_recorded(repeats, model)}
    assert set(found) == {"chest deflection", "chest deflection rate", "viscous criterion"}
    assert found["chest deflection"].error == pytest.approx(3.0, abs=0.01)
    assert found["chest deflection"].error_in_scatter == pytest.approx(3.0, abs=0.01)
    assert found["chest deflection"].relative_error == pytest.approx(0.075, abs=1e-4)


def test_the_lever_and_the_class_are_those_of_the_device() -> None:
    """The infant's moment is moved by 5.842 mm, and a deflection is filtered by the device's class."""
    curves = {MOMENT: (20 * BUMP, "Nm"), SHEAR: (-1000 * BUMP, "N"), AXIAL: (0 * BUMP, "N")}
    found = {
        size: entry(recorded_criteria(recording(curves), find_device(size)), "Nij").value
        for size in ("infant", "3 years")
    }
    assert found["infant"] == pytest.approx((20 + 5.842) / 43, rel=2e-3)
    assert found["3 years"] == pytest.approx(20 / 68, rel=2e-3)
    pushed = recording({STERNUM: (-42.0 * BUMP, "mm")})
    for size, cfc in (("adult male", 180), ("adult female", 600)):
        one = entry(recorded_criteria(pushed, find_device(size)), "chest deflection")
        assert [step.settings.get("cfc") for step in one.signals[0].history if step.name == "filter"] == [cfc]


def test_a_device_without_a_lever_has_no_moment() -> None:
    """The reason names the device."""
    data = recording({MOMENT: (BUMP, "Nm"), SHEAR: (BUMP, "N"), AXIAL: (BUMP, "N")})
    found = entry(recorded_criteria(data, find_device("mid-size adult male, side")), "Nij")
    assert found.reason == "there is no lever of the occipital condyle for 'mid-size adult male, side impact'"


def test_a_time_dependent_limit_reports_where_it_is_worst() -> None:
    """A bump of 3 kN of tension is below 3.3 kN at any time; its level, time and limit are kept."""
    found = entry(
        recorded_criteria(recording({AXIAL: (3000 * BUMP, "N")}), MALE), "neck tension, time-dependent"
    )
    assert isinstance(found.result, ExceedanceResult)
    assert found.value == pytest.approx(3000 / 3300, rel=5e-3)
    assert found.result.level / found.result.limit == pytest.approx(found.value)
    child = entry(
        recorded_criteria(recording({AXIAL: (3000 * BUMP, "N")}), find_device("6 years")),
        "neck tension, time-dependent",
    )
    assert "no constants of the neck tension, time-dependent for 'child, 6 years'" in child.reason


def test_forces_at_several_places_add_up_at_one_instant() -> None:
    """Front, middle and rear of one side are summed; a missing one is named by its whole code."""
    side = {
        f"D0ABDOLE{part}E2FOYP": (-size * BUMP, "N") for part, size in (("FR", 800), ("MI", 900), ("RE", 700))
    }
    male = find_device("mid-size adult male, side")
    assert entry(recorded_criteria(recording(side), male), "abdomen force").value == pytest.approx(
        2400, rel=5e-3
    )
    del side["D0ABDOLEREE2FOYP"]
    missing = entry(recorded_criteria(recording(side), male), "abdomen force")
    assert missing.reason == "no channel D0ABDOLEREE2FOY?"


def test_rear_impact_takes_head_and_first_vertebra() -> None:
    """Both are read in m/s², the vertebra from its own place."""
    data = recording({f"{HEAD}XP": (0 * BUMP, "g"), "D0THSP0100KMACXP": (5 * BUMP, "g")})
    expected = literal.nic(
        filter_cfc(data.signals[1].in_unit("m/s^2"), 60).samples.tolist(), [0.0] * TIME.size, STEP_S
    )
    assert entry(recorded_criteria(data, MALE), "NIC").value == pytest.approx(expected, rel=1e-6)


def test_angular_accelerations_come_from_velocities_where_they_are_not_recorded() -> None:
    """The same rotation as acceleration, or as its integral, gives the same value."""
    drive = 3000 * BUMP
    rate = np.concatenate([[0.0], np.cumsum(0.5 * (drive[1:] + drive[:-1]))]) * STEP_S
    still = (0 * BUMP, "rad/s")
    velocities = {f"{HEAD[:-2]}AVXP": still, f"{HEAD[:-2]}AVYP": (rate, "rad/s"), f"{HEAD[:-2]}AVZP": still}
    accelerations = {
        f"{HEAD[:-2]}AA{axis}P": (drive if axis == "Y" else 0 * drive, "rad/s^2") for axis in "XYZ"
    }
    from_rates = entry(recorded_criteria(recording(velocities), MALE), "DAMAGE")
    recorded = entry(recorded_criteria(recording(accelerations), MALE), "DAMAGE")
    assert from_rates.value == pytest.approx(recorded.value, rel=1e-3)
    assert [step.name for step in from_rates.signals[1].history] == ["filter", "derivative"]


@pytest.mark.parametrize(
    ("load_case", "name", "low", "high"),
    [
        ("head-drop", "HIC15", 700, 1500),
        ("head-drop", "head peak acceleration", 225, 275),
        ("neck-flexion", "Nij", 0.2, 0.7),
        ("thorax-impact", "chest deflection", 63.5, 72.6),
        ("thorax-impact", "viscous criterion", 0.7, 1.3),
        ("knee-impact", "femur force", 3000, 6500),
    ],
)
def test_the_demo_gives_each_load_case_its_criteria(
    load_case: str, name: str, low: float, high: float
) -> None:
    """Head drop, neck, thorax and knee each have theirs, within the range such tests give."""
    value = entry(recorded_criteria(of_record(records(load_case)[0]), MALE), name).value
    assert value is not None
    assert low < value < high


def test_a_value_at_its_limit_does_not_exceed_it() -> None:
    """Above it, it does; what could not be computed exceeds nothing; each of several limits counts."""
    assert MALE.limits_exceeded("HIC15", 700.0) == ()
    assert [limit.at_most for limit in MALE.limits_exceeded("HIC15", 700.1)] == [700.0]
    assert MALE.limits_exceeded("HIC15", None) == ()
    assert [limit.at_most for limit in MALE.limits_exceeded("chest deflection", 50.0)] == [42.0]
