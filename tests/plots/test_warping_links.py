"""Links between the samples that are compared once timing is warped away."""

from __future__ import annotations

import numpy as np
import pytest

from correlate import AlignedPair, rate
from correlate.plots.loss import LINKS, links_of, warping_links
from correlate.plots.palette import palette
from tests.plots.scores import late_model


def test_every_link_joins_a_sample_of_the_test_with_one_of_the_model() -> None:
    """Both ends lie on their curves, and a gap follows each link."""
    rating = late_model().rating
    drawn = warping_links(rating, colours=palette("light"))
    x, y = np.reshape(drawn.x, (-1, 3)), np.reshape(drawn.y, (-1, 3))
    assert len(x) == LINKS
    assert np.isnan(x[:, 2]).all()
    assert np.isnan(y[:, 2]).all()
    time_ms = 1e3 * rating.pair.time
    np.testing.assert_allclose(y[:, 0], np.interp(x[:, 0], time_ms, rating.pair.reference), atol=1e-3)
    np.testing.assert_allclose(y[:, 1], np.interp(x[:, 1], time_ms, rating.pair.candidate), atol=1e-3)


def test_curves_that_are_only_late_are_joined_across_the_delay() -> None:
    """A model that is the test 1.2 ms later is compared with itself 1.2 ms earlier, so links lie level."""
    time = np.arange(400) * 1e-4
    test = np.exp(-(((time - 0.015) / 0.003) ** 2))
    late = np.exp(-(((time - 0.0162) / 0.003) ** 2))
    rating = rate(AlignedPair(time=time, reference=test, candidate=late))
    drawn = warping_links(rating, colours=palette("dark"), window_s=(0.013, 0.017))
    x, y = np.reshape(drawn.x, (-1, 3)), np.reshape(drawn.y, (-1, 3))
    np.testing.assert_allclose(y[:, 0], y[:, 1], atol=1e-6)
    np.testing.assert_allclose(x[:, 1] - x[:, 0], 1.2, atol=1e-3)


def test_links_follow_the_window_and_keep_their_order() -> None:
    """Only links with an end in the window are chosen, at most the count, in the order of the path."""
    path = np.column_stack([np.arange(1000), np.arange(1000)]).astype(np.int32)
    time = np.arange(1000, dtype=np.float64) * 1e-3
    chosen = links_of(path, time, window_s=(0.2, 0.3), count=11)
    assert chosen[:, 0].tolist() == [200, 210, 220, 230, 240, 250, 260, 270, 280, 290, 300]


@pytest.mark.parametrize("count", [1, 5, 50])
def test_few_links_are_all_drawn(count: int) -> None:
    """A path that is shorter than the count is drawn whole."""
    path = np.column_stack([np.arange(5), np.arange(5)]).astype(np.int32)
    chosen = links_of(path, np.arange(5, dtype=np.float64), window_s=None, count=count)
    assert len(chosen) == min(count, 5)


def test_a_window_beyond_the_path_has_no_links() -> None:
    """Nothing is drawn, and nothing fails."""
    path = np.column_stack([np.arange(5), np.arange(5)]).astype(np.int32)
    assert len(links_of(path, np.arange(5, dtype=np.float64), window_s=(10.0, 20.0), count=3)) == 0
