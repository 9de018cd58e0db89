"""A criterion in repeats and model: errors against mean and scatter."""

from __future__ import annotations

import math
import statistics

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.criteria import compare_criterion
from correlate.errors import SignalError

VALUES = st.lists(st.floats(-1000, 1000).map(lambda value: round(value, 3)), min_size=1, max_size=6)


@given(repeats=VALUES, candidate=st.floats(-1000, 1000))
def test_errors_follow_mean_and_deviation_of_the_repeats(repeats: list[float], candidate: float) -> None:
    """Mean and deviation are those of the statistics library; the three errors follow from them."""
    found = compare_criterion(name="HIC15", unit="1", repeats=repeats, candidate=candidate)
    mean = statistics.fmean(repeats)
    assert found.reference == pytest.approx(mean, abs=1e-9)
    assert found.error == pytest.approx(candidate - mean, abs=1e-9)
    if len(repeats) > 1:
        assert found.scatter == pytest.approx(statistics.stdev(repeats), rel=1e-6, abs=1e-9)
    if found.error_in_scatter is not None:
        assert found.error_in_scatter * statistics.stdev(repeats) == pytest.approx(
            found.error, rel=1e-6, abs=1e-6
        )


def test_two_repeats_give_no_error_in_scatter_and_say_so() -> None:
    """A deviation of two values is shown, but not used as a yardstick."""
    found = compare_criterion(name="Nij", unit="1", repeats=[0.4, 0.6], candidate=0.7)
    assert found.scatter == pytest.approx(math.sqrt(0.02))
    assert found.error_in_scatter is None
    assert found.note == "2 of 3 repeats needed for scatter"


def test_equal_repeats_and_a_mean_of_zero_have_no_ratio() -> None:
    """Nothing is divided by zero."""
    equal = compare_criterion(name="x", unit="1", repeats=[5.0, 5.0, 5.0], candidate=6.0)
    assert (equal.scatter, equal.error_in_scatter, equal.note) == (0.0, None, "the repeats do not scatter")
    zero = compare_criterion(name="x", unit="1", repeats=[-1.0, 0.0, 1.0], candidate=6.0)
    assert zero.relative_error is None
    assert zero.error_in_scatter == pytest.approx(6.0)


def test_no_repeat_or_a_value_that_is_not_finite_is_refused() -> None:
    """The message carries the values."""
    with pytest.raises(SignalError, match=r"values of HIC15 are \[\] in the test"):
        compare_criterion(name="HIC15", unit="1", repeats=[], candidate=1.0)
    with pytest.raises(SignalError, match="nan in the model"):
        compare_criterion(name="HIC15", unit="1", repeats=[1.0], candidate=math.nan)
