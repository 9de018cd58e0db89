"""Surrogates of outcomes, and what a rating is a weighted mean of."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.tuning.parameters import Parameter, ParameterSpace
from correlate.tuning.surrogate import fit_surrogate, fit_surrogates, part_weights, untrusted
from tests.tuning.functions import box, run_table

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from correlate.tuning.runs import RunTable

    Floats = NDArray[np.float64]

SPACE = box((0, 1), (0, 1), (0, 1))


def three_cases(count: int, seed: int = 0) -> RunTable:
    """Return runs of three load cases with one parameter each; training is 1/4 of one and 3/4 of another."""
    points = np.random.default_rng(seed).random((count, 3))
    first = 1 - (points[:, 0] - 0.3) ** 2
    second = np.cos(4 * points[:, 1])
    third = points[:, 2]
    cases = {"load case/a": first, "load case/b": second, "load case/c": third}
    return run_table(SPACE, points, {**cases, "train": 0.25 * first + 0.75 * second, "held-out": third})


def test_the_weights_of_a_rating_are_found_in_the_runs() -> None:
    """Training is a quarter of one case and three quarters of another; the held-out case stands alone."""
    table = three_cases(12)
    rows = np.arange(12)
    assert part_weights(table, "train", rows) == pytest.approx({"load case/a": 0.25, "load case/b": 0.75})
    assert part_weights(table, "held-out", rows) == pytest.approx({"load case/c": 1.0})


def test_no_weights_where_the_runs_do_not_prove_them() -> None:
    """Too few runs, a rating that is no weighted mean, and an outcome that has no parts."""
    table = three_cases(12)
    assert part_weights(table, "train", np.arange(3)) == {}
    assert part_weights(table, "load case/a", np.arange(12)) == {}
    bent = run_table(SPACE, table.points, {**table.outcomes, "train": table.outcomes["train"] ** 2})
    assert part_weights(bent, "train", np.arange(12)) == {}


def test_a_rating_made_of_parts_is_predicted_from_them() -> None:
    """The sum predicts new runs, in mean and interval, and better than one process does by leave-one-out."""
    table, fresh = three_cases(20), three_cases(50, seed=1)
    fitted = fit_surrogates(table, ["train"])["train"]
    assert fitted.parts == ("load case/a", "load case/b")
    said = fitted.predict(fresh.points)
    errors = fresh.outcomes["train"] - said.mean
    assert np.sqrt(np.mean(errors**2)) < 0.05 * fresh.outcomes["train"].std()
    assert np.mean(np.abs(errors) < 3 * said.run_deviation) > 0.8
    assert fitted.mean_cube(SPACE.to_unit(fresh.points)) == pytest.approx(said.mean)
    assert fitted.q2 > 0.99
    one, other = (fit_surrogates(table, [name])[name].predict(fresh.points) for name in fitted.parts)
    assert said.deviation == pytest.approx(np.hypot(0.25 * one.deviation, 0.75 * other.deviation))
    assert said.bound == pytest.approx(0.25 * one.deviation + 0.75 * other.deviation)
    assert fitted.converged


def test_q2_tells_a_smooth_outcome_from_noise() -> None:
    """Noise cannot be predicted and is not trusted; a smooth outcome is."""
    random = np.random.default_rng(2)
    points = random.random((25, 3))
    table = run_table(SPACE, points, {"smooth": points[:, 0] ** 2, "noise": random.standard_normal(25)})
    fitted = fit_surrogates(table, ["smooth", "noise"])
    assert fitted["smooth"].q2 > 0.95
    assert not untrusted(fitted["smooth"])
    assert fitted["noise"].q2 < 0.3
    assert untrusted(fitted["noise"])
    assert not untrusted(fitted["noise"], least_q2=-10)
    assert [one.nominal for one in fitted["smooth"].coverage] == [0.5, 0.8, 0.95]


def test_logarithmic_scales_are_honoured() -> None:
    """An outcome straight in the logarithm of a parameter over three decades is predicted between runs."""
    space = ParameterSpace(
        (Parameter(name="rate", unit="1", lower=1e-3, upper=1.0, scale="log", start=0.03),)
    )
    points = np.geomspace(1e-3, 1.0, 8)[:, None]
    fitted = fit_surrogate(run_table(space, points, {"worth": np.log10(points[:, 0])}), "worth")
    assert fitted.predict(np.array([[0.002]])).mean[0] == pytest.approx(np.log10(0.002), abs=0.02)


def test_only_finished_runs_count() -> None:
    """Failed runs and missing numbers are passed over."""
    points = np.random.default_rng(7).random((10, 3))
    worth = points[:, 0].copy()
    worth[[0, 4]] = np.nan
    status = ["done"] * 9 + ["failed"]
    fitted = fit_surrogate(run_table(SPACE, points, {"worth": worth}, status=status), "worth")
    assert fitted.rows.tolist() == [1, 2, 3, 5, 6, 7, 8]


def test_an_outcome_that_never_moves_is_flat() -> None:
    """It is predicted without doubt, has no Q², and is no reason to distrust."""
    points = np.random.default_rng(8).random((6, 3))
    fitted = fit_surrogate(run_table(SPACE, points, {"worth": np.full(6, 0.4)}), "worth")
    assert fitted.flat
    assert np.isnan(fitted.q2)
    assert not untrusted(fitted)
    said = fitted.predict(points)
    assert said.mean == pytest.approx(np.full(6, 0.4))
    assert said.run_deviation == pytest.approx(np.zeros(6))


def test_too_few_runs_are_refused() -> None:
    """Four runs make no surrogate; an unknown outcome is named."""
    points = np.random.default_rng(9).random((4, 3))
    table = run_table(SPACE, points, {"worth": points[:, 0]})
    with pytest.raises(SettingsError, match="'worth' has 4 finished runs, too few"):
        fit_surrogate(table, "worth")
    with pytest.raises(SettingsError, match="no run has the outcome 'other'"):
        fit_surrogate(table, "other")
