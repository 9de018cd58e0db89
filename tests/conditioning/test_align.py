"""Two recordings become one pair: alike, on one grid, with every step on record."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.conditioning import Recipe, align, align_signals, turn_sign
from correlate.errors import SignalError, UnitError
from tests.conditioning.signals import names, sampled, signal_of

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.pair import AlignedPair


def slam(time: NDArray[np.float64]) -> NDArray[np.float64]:
    """Return a smooth pulse with ringing: all of it below 300 Hz."""
    return 40.0 * np.exp(-(((time - 0.05) / 0.012) ** 2)) * (1 + 0.3 * np.cos(2 * np.pi * 80 * time))


REFERENCE = sampled(slam, start_s=-0.05, end_s=0.2, step_s=5e-5)
CANDIDATE = sampled(slam, start_s=0.0, end_s=0.15, step_s=2e-5)
RECIPE = Recipe(cfc=1000, unit="g", start_s=0.0, end_s=0.1)


def assert_equal(one: AlignedPair, other: AlignedPair, tolerance: float) -> None:
    """Compare two pairs on the scale of the curves."""
    np.testing.assert_array_equal(one.time, other.time)
    np.testing.assert_allclose(one.reference, other.reference, rtol=0, atol=tolerance * 50)
    np.testing.assert_allclose(one.candidate, other.candidate, rtol=0, atol=tolerance * 50)


def test_same_input_gives_the_same_bits() -> None:
    """Aligning twice gives identical pairs."""
    one, other = align(REFERENCE, CANDIDATE, RECIPE), align(REFERENCE, CANDIDATE, RECIPE)
    assert one.reference.tobytes() == other.reference.tobytes()
    assert one.candidate.tobytes() == other.candidate.tobytes()


def test_aligned_signals_stay_as_they_are() -> None:
    """What came out of a recipe without filter goes through it again unchanged."""
    recipe = Recipe(start_s=0.0, end_s=0.1)
    first = align_signals(REFERENCE, CANDIDATE, recipe)
    second = align_signals(first.reference, first.candidate, recipe)
    assert second.reference.history == first.reference.history
    assert_equal(first.pair, second.pair, 0.0)


@pytest.mark.parametrize("unit", ["m/s^2", "mm/ms^2", "g"])
def test_units_of_the_recordings_do_not_matter(unit: str) -> None:
    """Either signal recorded in another unit gives the same pair."""
    plain = align(REFERENCE, CANDIDATE, RECIPE)
    assert_equal(plain, align(REFERENCE.in_unit(unit), CANDIDATE, RECIPE), 1e-13)
    assert_equal(plain, align(REFERENCE, CANDIDATE.in_unit(unit), RECIPE), 1e-13)


def test_unit_of_the_reference_is_the_default() -> None:
    """Without a unit in the recipe, the candidate follows the reference."""
    aligned = align_signals(REFERENCE.in_unit("m/s^2"), CANDIDATE)
    assert aligned.unit == "m/s^2"
    assert aligned.candidate.unit == "m/s^2"
    assert aligned.pair.candidate.max() == pytest.approx(9.80665 * CANDIDATE.samples.max(), rel=1e-4)


@given(
    step_s=st.sampled_from([1e-5, 2e-5, 1 / 30_000, 5e-5, 1e-4]),
    late_s=st.floats(0.0, 1e-3),
    cfc=st.sampled_from([None, 600, 1000]),
)
def test_one_function_sampled_twice_gives_one_curve(step_s: float, late_s: float, cfc: int | None) -> None:
    """Whatever the rate and the first sample, both curves of the pair nearly coincide."""
    other = sampled(slam, start_s=-0.05 + late_s, end_s=0.2, step_s=step_s)
    pair = align(REFERENCE, other, Recipe(cfc=cfc, start_s=0.0, end_s=0.15))
    np.testing.assert_allclose(pair.candidate, pair.reference, rtol=0, atol=2e-5 * 50)
    np.testing.assert_allclose(pair.reference, slam(pair.time), rtol=0, atol=1e-3 * 50)


@given(
    first=st.integers(-300, 500), count=st.integers(20, 800), step_s=st.sampled_from([1e-4, 5e-5, 1.25e-4])
)
def test_times_are_whole_multiples_of_the_step(first: int, count: int, step_s: float) -> None:
    """The interval asked for is the interval that comes, to the last bit."""
    last = first + count - 1
    pair = align(REFERENCE, REFERENCE, Recipe(start_s=first * step_s, end_s=last * step_s, step_s=step_s))
    np.testing.assert_array_equal(pair.time, step_s * np.arange(first, last + 1))


def test_common_time_without_an_interval() -> None:
    """Without an interval the pair runs as far as both recordings do, on the grid."""
    late = sampled(slam, start_s=0.00003, end_s=0.15, step_s=2e-5)
    pair = align(REFERENCE, late)
    assert pair.time[0] == pytest.approx(1e-4, abs=1e-12)
    assert pair.time[-1] == pytest.approx(0.1499, abs=1e-12)


def test_every_step_is_on_record_in_order() -> None:
    """Unit, sign, offset, shift, filter, grid, interval: each side lists what was done to it, no more."""
    recipe = Recipe(
        cfc=180,
        start_s=0.0,
        end_s=0.1,
        unit="m/s^2",
        reference_offset_window_s=(-0.05, -0.01),
        candidate_sign=-1,
        candidate_shift_s=-0.001,
    )
    aligned = align_signals(REFERENCE, turn_sign(CANDIDATE), recipe)
    assert names(aligned.reference) == ["read", "convert unit", "remove offset", "filter", "resample", "crop"]
    assert names(aligned.candidate) == [
        "read",
        "turn sign",
        "convert unit",
        "turn sign",
        "shift time",
        "filter",
        "resample",
        "crop",
    ]
    np.testing.assert_array_equal(aligned.pair.candidate, aligned.candidate.samples)
    np.testing.assert_array_equal(aligned.pair.reference, aligned.reference.samples)


def test_shift_and_sign_of_the_candidate_are_undone() -> None:
    """A model that is late by 3.7 ms and of opposite polarity falls on the test once the recipe says so."""
    late = sampled(lambda time: -slam(time - 0.0037), start_s=-0.05, end_s=0.2, step_s=2e-5)
    pair = align(
        REFERENCE,
        late,
        Recipe(cfc=1000, start_s=0.0, end_s=0.15, candidate_sign=-1, candidate_shift_s=-0.0037),
    )
    np.testing.assert_allclose(pair.candidate, pair.reference, atol=1e-3)


def test_shift_of_the_reference_moves_the_reference() -> None:
    """The peak of the test, at 50 ms, comes 2 ms later; the model stays."""
    pair = align(REFERENCE, CANDIDATE, Recipe(reference_shift_s=0.002, start_s=0.01, end_s=0.1))
    lag = int(np.argmax(pair.reference)) - int(np.argmax(pair.candidate))
    assert lag == 20


def test_offset_windows_are_on_the_time_axis_as_recorded() -> None:
    """An offset before the trigger goes, although the signal is moved afterwards."""
    raised = signal_of(REFERENCE.samples + 5.0, start_s=-0.05, step_s=5e-5)
    recipe = Recipe(
        candidate_offset_window_s=(-0.05, -0.03), candidate_shift_s=0.04, start_s=-0.005, end_s=0.02
    )
    pair = align(REFERENCE, raised, recipe)
    assert pair.candidate[0] == pytest.approx(0.0, abs=1e-3)


def test_filter_comes_before_the_grid() -> None:
    """A 9 kHz ringing of the model leaves no trace on a 10 kHz grid after CFC 1000."""
    ringing = sampled(
        lambda time: slam(time) + 10 * np.sin(2 * np.pi * 9000 * time), start_s=-0.05, end_s=0.2, step_s=1e-5
    )
    pair = align(REFERENCE, ringing, RECIPE)
    # CFC 1000 lets 1/(1 + (9000/2077.5)^4) = 0.28 % of 9 kHz through.
    np.testing.assert_allclose(pair.candidate, pair.reference, atol=10 * 0.0029)


def test_interval_beyond_the_data_is_refused() -> None:
    """The message names both recordings and the time that both cover."""
    with pytest.raises(
        SignalError,
        match=r"'head ax' and .*'head ax': the interval 0 s to 0.16 s reaches beyond the data; "
        r"choose one within 0 s to 0.15 s, which both cover",
    ):
        align(REFERENCE, CANDIDATE, Recipe(start_s=0.0, end_s=0.16))
    with pytest.raises(SignalError, match=r"-0.01 s to 0.15 s reaches beyond the data; .* which both cover"):
        align(REFERENCE, CANDIDATE, Recipe(start_s=-0.01))


def test_no_overlap_is_refused() -> None:
    """Two recordings of different times are named with their times."""
    early = signal_of(np.zeros(100), start_s=-1.0, channel="early")
    with pytest.raises(
        SignalError,
        match=r"'early' and .*'head ax': the first runs from -1 s to -0.9901 s, "
        r"the second from 0 s to 0.15 s, without overlap; correct the time zero",
    ):
        align(early, CANDIDATE)


def test_fewer_than_twenty_samples_are_refused() -> None:
    """Nineteen are refused with their number, twenty are not."""
    assert len(align(REFERENCE, CANDIDATE, Recipe(start_s=0.0, end_s=0.0019))) == 20
    with pytest.raises(SignalError, match=r"0 s to 0.0018 s hold 19 common samples, fewer than 20"):
        align(REFERENCE, CANDIDATE, Recipe(start_s=0.0, end_s=0.0018))
    with pytest.raises(SignalError, match="hold 0 common samples"):
        align(REFERENCE, CANDIDATE, Recipe(start_s=0.00001, end_s=0.00009))


def test_different_quantities_are_refused() -> None:
    """A force is not compared with an acceleration; file and channel are named."""
    force = signal_of(np.zeros(2000), unit="N", channel="probe force")
    with pytest.raises(
        UnitError, match=r"run.csv, channel 'probe force': 'N' \(force\) cannot be converted to 'g'"
    ):
        align(REFERENCE, force)


def test_rate_too_low_for_the_class_is_refused() -> None:
    """The side that cannot be filtered is named."""
    slow = sampled(slam, start_s=0.0, end_s=0.1, step_s=1e-3, channel="model ax")
    with pytest.raises(SignalError, match="'model ax': 1000 samples a second are too few for CFC 1000"):
        align(REFERENCE, slow, RECIPE)


def test_import_is_cheap() -> None:
    """Importing the conditioning loads neither scipy nor numba."""
    code = "import sys, correlate.conditioning; print({'scipy', 'numba'} & set(sys.modules))"
    root = Path(__file__).parents[2]
    ran = subprocess.run([sys.executable, "-c", code], cwd=root, capture_output=True, text=True, check=True)
    assert ran.stdout.strip() == "set()"
