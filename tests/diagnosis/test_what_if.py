"""A planted change is found again, and nothing is promised that a rating does not give."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate import AlignedPair, rate
from correlate.diagnosis.what_if import apply_change, what_if
from correlate.errors import SettingsError
from tests.metrics.curves import grid, noisy_pairs, pair_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


def crash_curve(time_s: Floats) -> Floats:
    """Return a pulse of two peaks with a tail, as a function of time."""
    main = np.exp(-(((time_s - 0.03) / 0.008) ** 2))
    second = 0.4 * np.exp(-(((time_s - 0.055) / 0.006) ** 2))
    return np.asarray(100 * (main - second))


def changed(
    *, late_s: float = 0.0, scale: float = 1.0, offset: float = 0.0, slow: float = 1.0
) -> AlignedPair:
    """Return a pair whose model is the test, changed."""
    time = grid(1000)
    return pair_of(crash_curve(time), scale * crash_curve((time - late_s) / slow) + offset)


def test_a_late_model_is_moved_back() -> None:
    """2.5 ms too late: the best shift is −2.5 ms and wins nearly everything."""
    found = what_if(changed(late_s=0.0025))
    assert found.shift.change.shift_s == pytest.approx(-0.0025, abs=1e-4)
    assert found.shift.rating.overall > 0.999


def test_a_model_too_large_is_scaled_down() -> None:
    """1.6 times too large: the best factor is 1/1.6."""
    found = what_if(changed(scale=1.6))
    assert found.scale.change.scale == pytest.approx(1 / 1.6, rel=0.02)
    assert found.scale.rating.overall > 0.995


def test_a_factor_beyond_the_search_is_marked() -> None:
    """Five times too small: the search ends at three times and says so; 1.6 times lies inside."""
    found = what_if(changed(scale=0.2))
    assert found.scale.change.scale == pytest.approx(3.0, rel=0.01)
    assert found.scale.at_limit == ("scale",)
    assert what_if(changed(scale=1.6)).scale.at_limit == ()


def test_an_offset_is_taken_off() -> None:
    """12 too high: the best offset is −12."""
    found = what_if(changed(offset=12.0))
    assert found.offset.change.offset == pytest.approx(-12.0, abs=1.0)
    assert found.offset.rating.overall > 0.98


def test_a_slow_model_is_made_quicker() -> None:
    """1.15 times too slow: the best stretch is its inverse."""
    found = what_if(changed(slow=1.15))
    assert found.stretch.change.stretch == pytest.approx(1 / 1.15, rel=0.02)
    assert found.stretch.rating.overall > 0.98


def test_all_together_undo_two_changes() -> None:
    """Late and too large: neither change alone wins back what both do."""
    found = what_if(changed(late_s=0.002, scale=1.4))
    assert found.together.rating.overall > max(found.shift.rating.overall, found.scale.rating.overall) + 0.02
    assert found.together.rating.overall > 0.99


def test_all_together_undo_four_changes() -> None:
    """Late, small, high and slow at once: the climb finds the way back, which no single change does."""
    found = what_if(changed(late_s=-0.003, scale=0.7, offset=6.0, slow=1.2))
    assert found.together.rating.overall > 0.98
    change = found.together.change
    assert change.stretch == pytest.approx(1 / 1.2, rel=0.03)
    assert change.scale == pytest.approx(1 / 0.7, rel=0.05)


@pytest.mark.parametrize(
    "candidate", [np.zeros(200), np.ones(200), -50 * np.ones(200)], ids=["zero", "one", "far off"]
)
def test_a_flat_model_is_searched_too(candidate: Floats) -> None:
    """Without any variance there is no correlation and no least-squares factor; offset still wins."""
    reference = 1.0 + 0.3 * np.sin(np.arange(200) / 20)
    found = what_if(pair_of(reference, candidate))
    assert found.together.rating.overall >= found.offset.rating.overall >= found.unchanged.overall


@settings(max_examples=12)
@given(pair=noisy_pairs())
def test_nothing_reported_is_below_what_is_there(pair: AlignedPair) -> None:
    """Each rating is that of the change named beside it, and none is below the unchanged one."""
    found = what_if(pair)
    for one in (found.shift, found.scale, found.offset, found.stretch, found.together):
        again = rate(
            apply_change(
                pair,
                shift_s=one.change.shift_s,
                scale=one.change.scale,
                offset=one.change.offset,
                stretch=one.change.stretch,
            )
        )
        assert one.rating.overall == pytest.approx(again.overall, abs=1e-12)
        assert one.gain == pytest.approx(one.rating.overall - found.unchanged.overall, abs=1e-12)
        assert one.gain >= 0.0
    assert found.together.rating.overall >= found.shift.rating.overall


def test_a_perfect_pair_is_left_alone() -> None:
    """Nothing can be won, so nothing is changed."""
    found = what_if(changed())
    assert found.together.gain == 0.0
    assert found.together.change.scale == 1.0


def test_a_long_pair_is_searched_thinned_and_rated_whole() -> None:
    """At 12,000 samples the shift is found to a few samples of the full grid."""
    time = np.arange(12_000, dtype=np.float64) * 1e-5
    pair = AlignedPair(time=time, reference=crash_curve(time), candidate=crash_curve(time - 0.003))
    found = what_if(pair)
    assert found.shift.change.shift_s == pytest.approx(-0.003, abs=1e-4)
    assert found.shift.rating.samples == 12_000


@given(shift=st.integers(-20, 20), scale=st.floats(0.5, 2.0), offset=st.floats(-5, 5))
def test_a_whole_shift_moves_samples(shift: int, scale: float, offset: float) -> None:
    """A shift of whole steps moves samples, then scales and offsets them."""
    pair = changed(late_s=0.001)
    moved = apply_change(pair, shift_s=shift * 1e-4, scale=scale, offset=offset).candidate
    expected = scale * pair.candidate + offset
    kept = slice(20, 980)
    assert moved[kept] == pytest.approx(np.roll(expected, shift)[kept], abs=1e-6)


def test_an_impossible_change_is_refused() -> None:
    """A stretch of 0 would stop the time."""
    with pytest.raises(SettingsError, match="stretch 0 is impossible"):
        apply_change(changed(), stretch=0)
