"""The scatter of tests from repeat to repeat."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.tuning.repeat_scatter import (
    UNKNOWN,
    inverse_root,
    repeat_scatter,
    variances_of_mean,
)
from tests.tuning.card_problems import SPACE, problem

if TYPE_CHECKING:
    from tests.tuning.card_problems import Problem

MIDDLE = np.full(len(SPACE.names), 0.5)


@pytest.fixture(scope="module")
def one() -> Problem:
    """Emulate a few runs; only the tests matter here."""
    return problem(determined=False, seed=1, runs=12)


def test_many_repeats_determine_the_covariance(one: Problem) -> None:
    """Of 400 repeats the covariance of the mean is that of the repeats over 400, all channels together."""
    curves = one.tested(MIDDLE, np.random.default_rng(1), repeats=400)
    scatter = repeat_scatter(curves)
    for channels, found in zip(curves.load_cases.values(), scatter.of_mean, strict=True):
        expected = np.cov(np.hstack([channel.tests for channel in channels]).T) / 400
        assert np.abs(found - expected).max() < 0.03 * np.abs(expected).max()


def test_few_repeats_are_shrunk_but_keep_what_they_share(one: Problem) -> None:
    """Of four repeats: positive definite, and the channels of a load case go together as the tests do."""
    curves = one.tested(MIDDLE, np.random.default_rng(2), repeats=4)
    scatter = repeat_scatter(curves)
    for channels, found in zip(curves.load_cases.values(), scatter.of_mean, strict=True):
        assert np.linalg.eigvalsh(found).min() > 0
        first, second = (
            slice(c.place.start - channels[0].place.start, c.place.stop - channels[0].place.start)
            for c in channels
        )
        own = [c.tests - c.tests.mean(axis=0) for c in channels]
        across = own[0].T @ own[1]
        assert np.vdot(found[first, second], across) > 0
        root = inverse_root(found)
        np.testing.assert_allclose(root @ found @ root.T, np.eye(len(found)), atol=1e-5)


def test_variances_are_the_diagonal_of_the_covariance(one: Problem) -> None:
    """What many sets of tests are compared by is what one set is fitted with."""
    curves = one.tested(MIDDLE, np.random.default_rng(3), repeats=3)
    found = variances_of_mean([channel.tests[None] for channel in curves.channels])
    expected = np.concatenate([np.diag(block) for block in repeat_scatter(curves).of_mean])
    np.testing.assert_allclose(found[0], expected, rtol=1e-9)


def test_one_repeat_has_an_assumed_scatter(one: Problem) -> None:
    """A twentieth of the size where nothing is known."""
    scatter = repeat_scatter(one.tested(MIDDLE, np.random.default_rng(4), repeats=1))
    np.testing.assert_allclose(scatter.of_one, UNKNOWN)
    assert set(scatter.repeats) == {1}


def test_more_repeats_say_more(one: Problem) -> None:
    """The mean of eight tests scatters less than that of two."""
    two, eight = (
        np.mean(
            [
                np.trace(block)
                for seed in range(8)
                for block in repeat_scatter(
                    one.tested(MIDDLE, np.random.default_rng(seed), repeats=repeats)
                ).of_mean
            ]
        )
        for repeats in (2, 8)
    )
    assert two > 2.5 * eight
