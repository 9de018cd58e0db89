"""Many pairs at once give the ratings of one at a time."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate import AlignedPair, RatingSettings, aligned_pairs, rate, rate_many
from correlate.errors import SignalError
from tests.metrics.curves import grid, noisy_pairs, pulse

CHOICES = st.builds(
    RatingSettings,
    flat_overlap=st.sampled_from(["reject", "zero"]),
    phase_tie=st.sampled_from(["earlier", "later"]),
    path_tie=st.sampled_from(["candidate", "reference"]),
    slope_ends=st.sampled_from(["one-sided", "second-order"]),
    average_ends=st.sampled_from(["shrink", "repeat"]),
)


@settings(max_examples=40)
@given(pairs=st.lists(noisy_pairs(), max_size=6), chosen=CHOICES, threads=st.integers(1, 3))
def test_each_rating_is_that_of_the_single_way(
    pairs: list[AlignedPair], chosen: RatingSettings, threads: int
) -> None:
    """Every score and every ingredient agrees to 1e-12, whatever the lengths, choices and threads."""
    many = rate_many(pairs, chosen, threads=threads)
    assert len(many) == len(pairs)
    for pair, found in zip(pairs, many, strict=True):
        alone = rate(pair, chosen)
        assert found.pair is pair
        assert found.shift_samples == alone.shift_samples
        for name in ("corridor", "phase", "magnitude", "slope", "overall"):
            assert getattr(found, name) == pytest.approx(getattr(alone, name), abs=1e-12)
        for part in ("corridor", "phase", "magnitude", "slope"):
            expected, got = getattr(alone.ingredients, part), getattr(found.ingredients, part)
            for key in expected.__slots__:
                assert getattr(got, key) == pytest.approx(getattr(expected, key), rel=1e-12, abs=1e-12)


def test_chunks_keep_the_order() -> None:
    """More pairs than one chunk holds come back in their order."""
    heights = np.linspace(0.5, 1.5, 300)[:, None]
    test = pulse(1500, start=300, length=600)
    pairs = aligned_pairs(
        time=grid(1500), reference=np.tile(test, (300, 1)), candidate=heights * test[None, :]
    )
    overall = [rating.overall for rating in rate_many(pairs)]
    assert int(np.argmax(overall)) in {149, 150}
    assert overall[:150] == sorted(overall[:150])


def test_no_pairs_give_no_ratings() -> None:
    """An empty list is not an error."""
    assert rate_many([]) == ()


def test_a_pair_that_cannot_be_rated_is_refused() -> None:
    """The reason is that of the single way."""
    flat = AlignedPair(time=grid(30), reference=np.zeros(30), candidate=np.ones(30))
    with pytest.raises(SignalError, match="the reference is zero throughout"):
        rate_many([flat])


def test_arrays_of_unequal_shape_are_refused() -> None:
    """Both shapes are named."""
    with pytest.raises(SignalError, match=r"shape \(2, 3\) and the candidates \(3, 3\)"):
        aligned_pairs(time=grid(3), reference=np.ones((2, 3)), candidate=np.ones((3, 3)))


def test_the_row_with_the_fault_is_named() -> None:
    """A sample that is not finite is found in its row."""
    candidate = np.ones((2, 3))
    candidate[1, 2] = np.nan
    with pytest.raises(SignalError, match="row 2, channel 'candidate': sample 3 is nan"):
        aligned_pairs(time=grid(3), reference=np.ones((2, 3)), candidate=candidate)
