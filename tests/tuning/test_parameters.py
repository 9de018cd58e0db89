"""Parameters and the box they span."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.errors import SettingsError
from correlate.tuning.parameters import Parameter, ParameterSpace, Scale

SPACE = ParameterSpace(
    (
        Parameter(name="stiffness", unit="N/mm", lower=10, upper=1000, scale="log", start=100),
        Parameter(name="strain", unit="1", lower=-1, upper=3, start=0),
    )
)


@st.composite
def spaces(draw: st.DrawFn) -> ParameterSpace:
    """Draw boxes of one to three parameters on both scales."""
    made = []
    for number in range(draw(st.integers(1, 3))):
        scale: Scale = draw(st.sampled_from(["linear", "log"]))
        lower = draw(st.floats(1e-6, 1e6) if scale == "log" else st.floats(-1e6, 1e6))
        upper = lower + draw(st.floats(0.01, 1e3)) * max(abs(lower), 1.0)
        made.append(
            Parameter(name=f"x{number}", unit="1", lower=lower, upper=upper, scale=scale, start=lower)
        )
    return ParameterSpace(tuple(made))


def test_equal_ratios_are_equal_steps_on_a_logarithmic_scale() -> None:
    """100 is half way from 10 to 1000; 1 is half way from -1 to 3."""
    assert SPACE.to_unit([[10, -1], [100, 1], [1000, 3]]) == pytest.approx(
        np.array([[0, 0], [0.5, 0.5], [1, 1]])
    )


@given(spaces(), st.data())
def test_points_come_back_from_the_cube(space: ParameterSpace, data: st.DataObject) -> None:
    """Any point of the cube maps into the box, and back to itself."""
    cube = np.array([data.draw(st.floats(0, 1)) for _ in space.names])
    point = space.from_unit(cube)
    assert space.contains(point)
    assert space.to_unit(point) == pytest.approx(cube, abs=1e-6)


@given(spaces())
def test_ends_are_inside_and_at_a_bound(space: ParameterSpace) -> None:
    """Both corners of the box belong to it, and every parameter is at a bound there."""
    for corner in (0.0, 1.0):
        point = space.from_unit(np.full(len(space.names), corner))
        assert space.contains(point)
        assert space.at_bound(point) == space.names


def test_parameters_at_a_bound_are_named_on_their_scale() -> None:
    """10.01 N/mm is at the lower bound on the logarithmic scale, 0 is inside."""
    assert SPACE.at_bound([10.01, 0]) == ("stiffness",)
    assert SPACE.at_bound([20, 0]) == ()


def test_points_and_values_by_name_are_the_same() -> None:
    """A point is told by name and put together again; a missing value is refused."""
    assert SPACE.as_values([20, 1]) == {"stiffness": 20, "strain": 1}
    assert SPACE.as_point({"strain": 1, "stiffness": 20}).tolist() == [20, 1]
    assert SPACE.start_point.tolist() == [100, 0]
    with pytest.raises(SettingsError, match="'strain' has no value"):
        SPACE.as_point({"stiffness": 20})


@pytest.mark.parametrize(
    ("changed", "message"),
    [
        ({"upper": 5.0}, "the lower bound 10 is not below the upper bound 5"),
        ({"lower": 0.0, "scale": "log"}, "the lower bound 0 has no logarithm"),
        ({"start": 200.0}, "the start value 200 is outside 10 to 100"),
        ({"upper": float("inf")}, "not a finite number"),
    ],
)
def test_ranges_that_cannot_be_used_are_refused(changed: dict[str, float], message: str) -> None:
    """The sentence names the parameter and says what is wrong."""
    with pytest.raises(SettingsError, match=f"parameter 'a': .*{message}"):
        Parameter(**{"name": "a", "unit": "1", "lower": 10, "upper": 100, "start": 20, **changed})  # type: ignore[arg-type]


def test_boxes_that_cannot_be_used_are_refused() -> None:
    """No parameter, two of one name, and points of the wrong width or place."""
    with pytest.raises(SettingsError, match="there is no parameter"):
        ParameterSpace(())
    with pytest.raises(SettingsError, match="'strain' occurs twice"):
        ParameterSpace((SPACE.parameters[1], SPACE.parameters[1]))
    with pytest.raises(SettingsError, match=r"shape \(3,\) do not fit 2 parameters"):
        SPACE.to_unit([1, 2, 3])
    with pytest.raises(SettingsError, match="outside the unit cube"):
        SPACE.from_unit([0.5, 1.01])
    with pytest.raises(SettingsError, match="not positive"):
        SPACE.to_unit([0, 0])
