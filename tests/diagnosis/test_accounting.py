"""The lost rating is shared out completely, and to the right places."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate import AlignedPair, RatingSettings, Weights, rate
from correlate.diagnosis.accounting import COMPONENTS, account_for_loss, largest_stretches
from correlate.errors import SettingsError
from tests.metrics.curves import grid, noisy_pairs, pair_of, pulse


@st.composite
def any_settings(draw: st.DrawFn) -> RatingSettings:
    """Draw weights, limits, exponents and choices."""
    parts = np.array(draw(st.lists(st.floats(0.0, 1.0), min_size=4, max_size=4))) + 1e-3
    corridor, phase, magnitude, slope = (parts / parts.sum()).tolist()
    return RatingSettings(
        weights=Weights(corridor=corridor, phase=phase, magnitude=magnitude, slope=slope),
        corridor_exponent=draw(st.floats(0.5, 3.0)),
        phase_exponent=draw(st.floats(0.5, 3.0)),
        magnitude_limit=draw(st.floats(0.05, 1.0)),
        slope_limit=draw(st.floats(0.1, 3.0)),
        path_tie=draw(st.sampled_from(["candidate", "reference"])),
        zero_reference=draw(st.sampled_from(["compare", "zero"])),
    )


@settings(max_examples=60)
@given(pair=noisy_pairs(), chosen=any_settings(), width=st.floats(1e-4, 0.02))
def test_the_parts_add_up(pair: AlignedPair, chosen: RatingSettings, width: float) -> None:
    """Samples, components and bins each add up to what is missing to 1."""
    rating = rate(pair, chosen)
    account = account_for_loss(rating)
    missing = 1 - rating.overall
    assert account.total == pytest.approx(missing, abs=1e-12)
    assert sum(account.by_component.values()) == pytest.approx(missing, abs=1e-9)
    for name in COMPONENTS:
        assert account.by_sample[name].sum() == pytest.approx(account.by_component[name], abs=1e-9)
        assert (account.by_sample[name] >= 0).all()
    assert account.bins(width).total.sum() == pytest.approx(missing, abs=1e-9)


def test_equal_curves_lose_nothing() -> None:
    """A perfect pair has an empty account and no stretch."""
    curve = pulse(300, start=50, length=100)
    account = account_for_loss(rate(pair_of(curve, curve)))
    assert account.total == 0.0
    assert largest_stretches(account, 5) == ()


def test_the_corridor_loss_of_a_sample_is_exact() -> None:
    """A single sample at mid-corridor loses what its score lacks, weight over number of samples."""
    reference = np.ones(100)
    reference[0] = 0.9
    candidate = reference.copy()
    # Half way from the inner (5 %) to the outer (50 %) corridor the score is 0.5 squared.
    candidate[60] += 0.05 + 0.5 * 0.45
    account = account_for_loss(rate(pair_of(reference, candidate)))
    assert account.by_sample["corridor"][60] == pytest.approx(0.4 * (1 - 0.25) / 100, abs=1e-12)
    assert np.count_nonzero(account.by_sample["corridor"]) == 1


def test_a_plateau_that_is_too_high_pays_for_magnitude_there() -> None:
    """A constant of 1 that is 1.1 in its second half loses 0.2 · (0.05/0.5) by magnitude, all of it there."""
    reference = np.ones(400)
    candidate = np.where(np.arange(400) < 200, 1.0, 1.1)
    rating = rate(pair_of(reference, candidate), RatingSettings(largest_shift=0.005))
    account = account_for_loss(rating)
    late = account.by_sample["magnitude"][200:].sum()
    assert late == pytest.approx(account.by_component["magnitude"], rel=1e-9)
    # The path cannot warp a step in height away: 200 of 400 samples miss by 0.1.
    assert account.by_component["magnitude"] == pytest.approx(0.2 * 0.05 / 0.5, rel=0.15)


def test_slope_is_lost_where_the_curve_rises_differently() -> None:
    """Ringing in the last third only is paid there, but for the reach of the moving average."""
    time = grid(600)
    reference = np.sin(np.pi * np.arange(600) / 600)
    ringing = np.where(time > 0.04, 0.02 * np.sin(2 * np.pi * 400 * time), 0.0)
    account = account_for_loss(rate(pair_of(reference, reference + ringing)))
    slope = account.by_sample["slope"]
    assert slope[395:].sum() > 0.999 * slope.sum()


def test_a_late_copy_loses_by_phase_alone_what_its_shift_costs() -> None:
    """Twenty samples of a largest shift of 60 cost a third of the weight, spread evenly."""
    reference, candidate = pulse(300, start=60, length=80), pulse(300, start=80, length=80)
    account = account_for_loss(rate(pair_of(reference, candidate)))
    assert account.phase_loss == pytest.approx(0.2 * 20 / 60, abs=1e-12)
    assert np.ptp(account.by_sample["phase"]) == 0.0
    assert account.by_component["magnitude"] == pytest.approx(0.0, abs=1e-12)


def test_a_score_beyond_its_limit_is_said_and_shared_out() -> None:
    """Three times too large: magnitude scores 0, its whole weight is shared out in proportion."""
    reference = pulse(300, start=60, length=80)
    account = account_for_loss(rate(pair_of(reference, 3 * reference)))
    assert account.clamped == ("magnitude",)
    assert account.by_sample["magnitude"].sum() == pytest.approx(0.2, abs=1e-12)
    assert account.by_sample["magnitude"][:60].sum() == 0.0


def test_the_costliest_stretch_is_where_the_fault_is() -> None:
    """An extra bump between 20 and 25 ms is found there."""
    reference = pulse(600, start=50, length=500)
    candidate = reference + 0.3 * pulse(600, start=200, length=50)
    stretches = largest_stretches(account_for_loss(rate(pair_of(reference, candidate))), 3)
    assert 0.015 <= stretches[0].start_s <= 0.020
    assert 0.025 <= stretches[0].end_s <= 0.030
    assert [one.loss for one in stretches] == sorted((one.loss for one in stretches), reverse=True)


def test_bins_narrower_than_a_step_are_refused() -> None:
    """They would be empty here and there."""
    account = account_for_loss(
        rate(pair_of(pulse(100, start=10, length=50), pulse(100, start=12, length=50)))
    )
    with pytest.raises(SettingsError, match=r"bins of 1e-05 s are narrower than the time step of 0\.0001 s"):
        account.bins(1e-5)
