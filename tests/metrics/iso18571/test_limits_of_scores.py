"""Ends and edges of the scores and of the warnings beside them."""

from __future__ import annotations

import math

import numpy as np
import pytest

from correlate import AlignedPair, RatingSettings, rate
from correlate.errors import SettingsError
from correlate.metrics.iso18571.rating import _quiet
from correlate.metrics.iso18571.scores import best_path, score_of_error
from tests.oracles import iso18571_literal as literal


@pytest.mark.parametrize(
    ("difference", "rule", "error", "score"),
    [
        (0.0, "compare", math.nan, 1.0),
        (0.0, "zero", math.nan, 0.0),
        (1e-9, "compare", math.inf, 0.0),
        (1e-9, "zero", math.inf, 0.0),
    ],
)
def test_an_error_of_nothing(difference: float, rule: str, error: float, score: float) -> None:
    """A reference sum of zero: equal curves have no error, others an infinite one."""
    found = score_of_error(difference, 0.0, 0.5, rule)  # type: ignore[arg-type]
    assert found == pytest.approx((error, score), nan_ok=True)


@pytest.mark.parametrize(("difference", "score"), [(0.0, 1.0), (2.5, 0.5), (5.0, 0.0), (7.0, 0.0)])
def test_an_error_falls_to_zero_at_its_limit(difference: float, score: float) -> None:
    """Along a straight line, and not below."""
    error, found = score_of_error(difference, 10.0, 0.5, "compare")
    assert (error, found) == pytest.approx((difference / 10, score))


@pytest.mark.parametrize("seed", range(5))
def test_the_path_is_the_literal_one(seed: int) -> None:
    """Index in the reference and in the candidate, and the sum of the squared differences."""
    random = np.random.default_rng(seed)
    reference, candidate = np.cumsum(random.normal(size=(2, 60)), axis=1)
    distance, path = best_path(reference, candidate, RatingSettings())
    expected = [(j, i) for i, j in literal.warped(reference.tolist(), candidate.tolist())]
    assert path.tolist() == [list(one) for one in expected]
    assert distance == pytest.approx(sum((candidate[i] - reference[j]) ** 2 for j, i in expected))


def test_the_shift_that_says_little_is_named_in_ms() -> None:
    """Two ramps: the warning names the shift of the rating."""
    ramp = np.linspace(0.1, 1.1, 600)
    pair = AlignedPair(time=np.arange(600) * 1e-4, reference=ramp, candidate=1.018 * ramp + 1e-4 * ramp**2)
    rating = rate(pair)
    (flag,) = rating.flags
    assert flag.figures["shift_s"] == pytest.approx(rating.shift_s)
    assert f"with one of {1e3 * abs(rating.shift_s):.1f} ms" in flag.sentence


def test_ingredients_as_plain_values() -> None:
    """Each score with its parts, and how many samples overlap."""
    curve = np.sin(np.arange(100) / 20)
    rating = rate(AlignedPair(time=np.arange(100) * 1e-4, reference=curve, candidate=0.9 * curve))
    plain = rating.ingredients.as_dict()
    assert set(plain) == {"corridor", "phase", "magnitude", "slope", "overlap_samples"}
    assert plain["overlap_samples"] == 100
    assert plain["magnitude"] == {
        name: getattr(rating.ingredients.magnitude, name)
        for name in ("score", "error", "difference_sum", "reference_sum", "warping_distance", "band")
    }


@pytest.mark.parametrize("late", [7, -7, 0])
def test_the_path_of_a_rating_points_into_both_curves(late: int) -> None:
    """A pulse that is seven samples later or earlier is compared with itself, seven samples apart."""
    time = np.arange(200) * 1e-4
    test, model = (np.exp(-(((np.arange(200) - at) / 15) ** 2)) for at in (100, 100 + late))
    path = rate(AlignedPair(time=time, reference=test, candidate=model)).warping_path()
    assert set((path[:, 1] - path[:, 0]).tolist()) == {late}
    assert path[0].tolist() == [max(0, -late), max(0, late)]
    assert path[-1].tolist() == [199 - max(0, late), 199 - max(0, -late)]


@pytest.mark.parametrize(
    ("name", "kept", "refused"),
    [
        ("inner_half_width", (0.0, 0.49), (-0.01, 0.5)),
        ("corridor_exponent", (0.1, 100.0), (0.0, -1.0, math.inf, math.nan)),
        ("phase_exponent", (0.1, 100.0), (0.0, -1.0, math.inf, math.nan)),
        ("magnitude_limit", (0.1, 100.0), (0.0, -1.0, math.inf, math.nan)),
        ("slope_limit", (0.1, 100.0), (0.0, -1.0, math.inf, math.nan)),
        ("largest_shift", (0.01, 0.99), (0.0, 1.0, math.nan)),
        ("warping_band", (0.01, 1.0), (0.0, 1.01, math.nan)),
        ("tie_tolerance", (0.0, 0.0099), (-1e-12, 0.01, math.nan)),
        ("slope_average_samples", (1, 3, 11), (0, -1, 2, 10)),
    ],
)
def test_the_ranges_of_the_settings(name: str, kept: tuple[float, ...], refused: tuple[float, ...]) -> None:
    """A value at the edge is kept, one beyond it is refused by name."""
    for value in kept:
        assert getattr(RatingSettings(**{name: value}), name) == value  # type: ignore[arg-type]
    for value in refused:
        with pytest.raises(SettingsError, match=f"{name} must be"):
            RatingSettings(**{name: value})  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("first", "last", "expected"),
    [
        # 100 samples are active, a tenth of them is added on either side.
        (100, 199, (0.9, 0.0090, 0.0209)),
        (5, 104, (0.9, 0.0, 0.0114)),
        (895, 994, (0.9, 0.0885, 0.0999)),
        (0, 498, (0.501, 0.0, 0.0548)),
        (0, 499, None),
    ],
)
def test_an_interval_that_is_mostly_quiet(
    first: int, last: int, expected: tuple[float, float, float] | None
) -> None:
    """More than half of 1000 samples; the suggested interval stays within them."""
    pair = AlignedPair(time=np.arange(1000) * 1e-4, reference=np.ones(1000), candidate=np.ones(1000))
    found = [flag.figures for flag in _quiet(pair, first, last)]
    if expected is None:
        assert found == []
    else:
        share, start_s, end_s = expected
        assert dict(found[0]) == pytest.approx(
            {"quiet_share": share, "suggested_start_s": start_s, "suggested_end_s": end_s}
        )
