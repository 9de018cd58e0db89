"""The evidence: one row of numbers for all channels and load cases together."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate.diagnosis.hints.evidence import EvidenceChannel, difference_size, numbers_of
from correlate.diagnosis.hints.numbers import LARGEST
from correlate.pair import AlignedPair
from tests.diagnosis.struck_mass import Struck, evidence

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.diagnosis.hints import Role

    Floats = NDArray[np.float64]

TIME = np.arange(200) * 1e-3
PULSE = np.sin(np.pi * np.clip((TIME - 0.05) / 0.06, 0.0, 1.0))


def channel(
    role: Role, factor: float, *, size: float = 1.0, name: str = "", load_case: str = ""
) -> EvidenceChannel:
    """Return a pulse and a model that is larger by a factor."""
    pair = AlignedPair(time=TIME, reference=size * PULSE, candidate=factor * size * PULSE)
    return EvidenceChannel(name=name or role, load_case=load_case, role=role, pair=pair)


def test_the_size_is_that_of_the_difference_in_peaks() -> None:
    """A tenth more of a half sine, where it is above a tenth: a tenth of its root mean square there."""
    within = PULSE >= 0.1
    expected = 0.1 * float(np.sqrt(np.mean(PULSE[within] ** 2)))
    assert difference_size(channel("force", 1.1).pair) == pytest.approx(expected)
    assert difference_size(channel("force", 1.1, size=-300.0).pair) == pytest.approx(expected)


def test_numbers_are_in_shares_of_the_size() -> None:
    """The same pattern has the same numbers, small or large."""
    small, large = (numbers_of([channel("force", factor)]) for factor in (1.05, 1.10))
    assert large["size"] == pytest.approx(2.0 * small["size"])
    assert large["force: peak"] == pytest.approx(small["force: peak"], rel=0.05)
    assert large["force: by size"] == pytest.approx(small["force: by size"])


def test_only_what_is_measured_has_numbers() -> None:
    """A force alone has no travel; with a travel, the law is there too, with an acceleration the mass."""
    assert {name.partition(":")[0] for name in numbers_of([channel("force", 1.1)])} == {"force", "size"}
    names = numbers_of([channel("force", 1.1), channel("travel", 0.9), channel("acceleration", 1.0)])
    assert {name.partition(":")[0] for name in names} == {
        "acceleration", "force", "travel", "force by travel", "acceleration by travel", "force by path",
        "acceleration by path", "force to acceleration", "size",
    }  # fmt: skip


def test_nothing_differs_nothing_is_said() -> None:
    """No channel, or equal curves."""
    assert numbers_of([]) == {}
    assert numbers_of([channel("force", 1.0), channel("travel", 1.0)]) == {}


def test_a_channel_that_differs_more_counts_more() -> None:
    """Of two forces, the mean of the numbers leans to the one with the larger difference."""
    found = numbers_of([channel("force", 1.3, name="a"), channel("force", 0.98, name="b")])
    assert found["force: peak"] * found["size"] > (np.log(1.3) + np.log(0.98)) / 2 + 0.05


def test_load_cases_are_averaged_and_their_growth_is_told() -> None:
    """The more severe load case is the one of larger peaks."""
    mild = channel("force", 1.1, load_case="mild")
    severe = channel("force", 1.4, size=2.0, load_case="severe")
    found = numbers_of([severe, mild])
    assert found["force: peak"] * found["size"] == pytest.approx((np.log(1.1) + np.log(1.4)) / 2)
    assert found["force: peak, growth"] * found["size"] == pytest.approx(np.log(1.4) - np.log(1.1))
    assert numbers_of([mild, severe]) == pytest.approx(found)


def test_load_cases_of_equal_severity_have_no_growth() -> None:
    """Below a tenth nobody can say which is the more severe; nor without a channel in both."""
    one = channel("force", 1.1, load_case="one")
    near = channel("force", 1.4, size=1.08, load_case="other")
    assert not any("growth" in name for name in numbers_of([one, near]))
    apart = channel("force", 1.4, size=3.0, name="elsewhere", load_case="other")
    assert not any("growth" in name for name in numbers_of([one, apart]))


def test_load_and_travel_of_different_load_cases_are_no_law() -> None:
    """They belong to different events."""
    found = numbers_of([channel("force", 1.1, load_case="one"), channel("travel", 1.1, load_case="other")])
    assert not any("by travel" in name for name in found)


def test_a_channel_whose_model_is_zero_has_a_size_and_no_numbers() -> None:
    """The others speak on."""
    found = numbers_of([channel("force", 0.0), channel("travel", 1.1)])
    assert {name.partition(":")[0] for name in found} == {"travel", "size"}
    assert found["size"] > 0.3


@settings(max_examples=15, deadline=None)
@given(
    wanted=st.lists(st.sampled_from(("rig", "acceleration", "force", "travel")), max_size=5),
    seed=st.integers(0, 1000),
)
def test_any_channels_give_finite_numbers(wanted: list[Role], seed: int) -> None:
    """Whichever sensors are fitted, and however wrong the model is."""
    rng = np.random.default_rng(seed)
    channels = [
        replace(
            channel(role, float(rng.uniform(-1.0, 2.0)), load_case=str(rng.integers(2))),
            name=f"{role} {index}",
        )
        for index, role in enumerate(wanted)
    ]
    found = numbers_of(channels)
    assert np.isfinite(list(found.values())).all()
    if found:
        bound = 2.0 * LARGEST / found["size"]
        assert max(abs(value) for value in found.values()) <= max(bound, found["size"])


def test_a_change_of_mechanics_is_seen_in_every_kind_of_number() -> None:
    """A softer spring without a stop: less load at equal travel, more travel, longer load."""
    spring = Struck(stop=1e3)
    found = numbers_of(evidence(spring, replace(spring, stiffness=42.0)))
    assert found["force by travel: load ratio at 0.55"] < 0.0
    assert found["travel: peak"] > 0.0
    assert found["force: duration"] > 0.0
