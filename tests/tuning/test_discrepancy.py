"""Cards with a model whose form may be wrong, on problems with known cards."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.tuning.discrepancy import (
    CardsModel,
    fit_model,
    gaps_left,
    sample_cards,
    slopes_at,
    smooth_covariance,
)
from correlate.tuning.repeat_scatter import repeat_scatter
from tests.tuning.card_problems import SPACE, TIME, problem, responses

if TYPE_CHECKING:
    from tests.tuning.card_problems import Problem

POINT = np.array([0.35, 0.6, 0.55, 0.45, 0.6])
START = np.full(len(SPACE.names), 0.5)
PLACE_S = 0.03


@pytest.fixture(scope="module")
def made() -> Problem:
    """Emulate 30 runs of a problem whose tests determine every parameter."""
    return problem(determined=True, seed=21)


def test_known_cards_are_inside_their_intervals_and_no_window_is_claimed(made: Problem) -> None:
    """A model of the right form: intervals of 95 % hold the truth, or nearly, and nothing is called wrong."""
    curves = made.tested(POINT, np.random.default_rng(5))
    model, optimum = fit_model(curves, repeat_scatter(curves), START)
    sampled = sample_cards(model, optimum, seed=1)
    assert sampled.converged
    low, high = np.quantile(sampled.draws, [0.025, 0.975], axis=0)
    assert np.sum((low <= POINT) & (high >= POINT)) >= 4
    assert (high - low).max() < 0.3
    assert all(gap.windows == () for gap in gaps_left(model, optimum, sampled.draws))


def test_what_the_model_lacks_is_found_with_its_place(made: Problem) -> None:
    """A bump in one channel is claimed there, and nowhere else; the cards stay near the truth."""
    key = ("neck", "force")
    size = np.abs(responses(POINT)[key]).max()
    wrong = {key: 0.2 * size * np.exp(-0.5 * ((TIME - PLACE_S) / 0.004) ** 2)}
    curves = made.tested(POINT, np.random.default_rng(6), wrong=wrong)
    model, optimum = fit_model(curves, repeat_scatter(curves), START)
    assert np.abs(optimum - POINT).max() < 0.15
    precision = np.linalg.inv(model.precision(optimum))
    draws = optimum + np.random.default_rng(0).standard_normal((400, 5)) @ np.linalg.cholesky(precision).T
    found = {
        (one.channel.load_case, one.channel.channel): (one, gap)
        for one, gap in zip(curves.channels, gaps_left(model, optimum, np.clip(draws, 0, 1)), strict=True)
    }
    assert [name for name, (_, gap) in found.items() if gap.windows] == [key]
    one, gap = found[key]
    start, end = one.ends_s(*gap.windows[0])
    assert start - 0.002 < PLACE_S < end + 0.002
    assert gap.gap[gap.windows[0][0]] > 0
    sizes = [float(np.trace(one)) for one in model.discrepancies]
    assert sizes[one.number] == max(sizes)


def test_a_part_that_no_card_reaches_is_told_apart(made: Problem) -> None:
    """A step at the end of a curve that dies away in every run is beyond any card."""
    key = ("thorax", "travel")
    size = np.abs(responses(POINT)[key]).max()
    wrong = {key: 1.5 * size * np.exp(-0.5 * ((TIME - 0.07) / 0.004) ** 2)}
    curves = made.tested(POINT, np.random.default_rng(7), wrong=wrong)
    model, optimum = fit_model(curves, repeat_scatter(curves), START)
    gaps = gaps_left(model, optimum, np.tile(optimum, (4, 1)))
    assert gaps[0].windows
    assert gaps[0].reachable == (False,) * len(gaps[0].windows)


def test_draws_have_the_mean_and_spread_of_a_known_density(made: Problem) -> None:
    """Where the density is nearly normal its draws have its covariance, from the slopes at the optimum."""
    curves = made.tested(START, np.random.default_rng(8), repeats=8, scatter=0.01)
    model, optimum = fit_model(curves, repeat_scatter(curves), START)
    sampled = sample_cards(model, optimum, seed=3)
    expected = np.sqrt(np.diag(np.linalg.inv(model.precision(optimum))))
    assert sampled.draws.std(axis=0) == pytest.approx(expected, rel=0.25)
    assert np.all(np.abs(sampled.draws.mean(axis=0) - optimum) < expected)
    again = sample_cards(model, optimum, seed=3)
    np.testing.assert_array_equal(sampled.draws, again.draws)


def test_a_chain_that_is_too_short_is_said_to_be(made: Problem) -> None:
    """Forty steps are no fifty autocorrelation times."""
    curves = made.tested(POINT, np.random.default_rng(9))
    model, optimum = fit_model(curves, repeat_scatter(curves), START)
    assert not sample_cards(model, optimum, most_steps=40).converged


def test_a_larger_discrepancy_weighs_a_channel_less(made: Problem) -> None:
    """The density is that of the residuals over their covariance, and is nothing outside the cube."""
    curves = made.tested(POINT, np.random.default_rng(10))
    scatter = repeat_scatter(curves)
    errors = curves.emulator_covariance(POINT[None])
    none, large = (
        CardsModel(
            curves,
            scatter,
            errors,
            [size**2 * smooth_covariance(len(one.time), 0.2) for one in curves.channels],
        )
        for size in (0.0, 0.5)
    )
    assert np.linalg.det(none.precision(POINT)) > np.linalg.det(large.precision(POINT))
    assert none.log_density(POINT[None])[0] < large.log_density(POINT[None])[0] < 0
    assert np.isinf(none.log_density(np.full((1, 5), 1.1)))[0]
    whole = scatter.of_mean[0] + errors[0]
    away = (curves.tests - curves.predict(POINT[None])[0])[: len(whole)]
    white = none.residuals(POINT[None])[0][: len(whole)]
    assert white @ white == pytest.approx(away @ np.linalg.solve(whole, away), rel=1e-4)


def test_slopes_are_those_of_the_curves(made: Problem) -> None:
    """Against wider differences, in the middle and at a corner of the cube."""
    curves = made.tested(POINT, np.random.default_rng(11))
    for point in (START, np.ones(5)):
        wide = slopes_at(curves, point, step=0.01)
        assert np.abs(slopes_at(curves, point) - wide).max() < 0.03 * np.abs(wide).max()
