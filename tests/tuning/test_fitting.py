"""Everything learned from the runs at once, and kept in a file."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.errors import FormatError, SettingsError
from correlate.tuning.definition import TuningGoal
from correlate.tuning.fitting import (
    TuningFit,
    fit_everything,
    fitted_outcomes,
    read_fit,
    runs_sha256,
    write_fit,
)
from correlate.tuning.parameters import Parameter, ParameterSpace
from correlate.tuning.runs import RunTable

if TYPE_CHECKING:
    from pathlib import Path

SPACE = ParameterSpace(
    (
        Parameter(name="a", unit="1", lower=0, upper=1, start=0.5),
        Parameter(name="b", unit="MPa", lower=1, upper=100, scale="log", start=10),
    )
)
CUBE = np.vstack([[0.5, 0.5], np.random.default_rng(3).random((13, 2))])
GOAL = TuningGoal(train=("push",), held_out=("pull",))


def runs(*, flat: bool = False) -> RunTable:
    """Return runs of two load cases; the held-out one moves with ``a`` alone."""
    push = 1 - (CUBE[:, 0] - 0.7) ** 2 - 0.3 * (CUBE[:, 1] - 0.4) ** 2
    push = np.full(14, 0.5) if flat else push
    return RunTable(
        space=SPACE,
        points=SPACE.from_unit(CUBE),
        status=("done",) * 14,
        outcomes={
            "train": push.copy(),
            "load case/push": push.copy(),
            "load case/pull": 0.5 + 0.1 * CUBE[:, 0],
            "feature/push/force/peak": CUBE[:, 1].copy(),
        },
        rounds=np.zeros(14, dtype=np.int64),
        identities=tuple(f"p{number:03d}" for number in range(14)),
    )


@pytest.fixture(scope="module")
def fit() -> TuningFit:
    """Fit the runs once."""
    return fit_everything(runs(), GOAL, runs=2)


def test_ratings_and_what_must_be_kept_are_fitted(fit: TuningFit) -> None:
    """Features are not; the parameter that moves nothing is known as such; proposals come from it all."""
    assert list(fit.surrogates) == ["train", "load case/pull", "load case/push"]
    assert fit.sensitivities["load case/pull"].strongest() == ("a",)
    assert fit.sensitivities["train"].strongest()[0] == "a"
    assert (len(fit.proposals), fit.refusal) == (2, "")


def test_progress_grows_and_may_end_the_work() -> None:
    """Each outcome is named while it is fitted; whatever the watcher raises comes through."""
    seen: list[tuple[float, str]] = []

    def watch(done: float, words: str) -> None:
        seen.append((done, words))
        if words == "fitting load case/pull":
            raise InterruptedError

    with pytest.raises(InterruptedError, match=r"^$"):
        fit_everything(runs(), GOAL, progress=watch)
    assert seen[0] == (0.0, "fitting train")
    assert [done for done, _ in seen] == sorted(done for done, _ in seen)


def test_what_cannot_be_proposed_is_said() -> None:
    """An outcome that never moves is fitted; why nothing is proposed is kept as words."""
    fit = fit_everything(runs(flat=True), GOAL, runs=1)
    assert fit.proposals == ()
    assert "'train'" in fit.refusal
    assert list(fit.sensitivities) == ["load case/pull"]


def test_a_kept_fit_predicts_the_same(fit: TuningFit, tmp_path: Path) -> None:
    """Read again, means and deviations are equal everywhere, and so is everything else."""
    write_fit(tmp_path / "fit.json", fit, runs())
    again = read_fit(tmp_path / "fit.json", runs())
    assert again
    cube = np.random.default_rng(1).random((20, 2))
    for name, one in fit.surrogates.items():
        said, kept = one.predict_cube(cube), again.surrogates[name].predict_cube(cube)
        assert kept.mean == pytest.approx(said.mean, abs=1e-10)
        assert kept.run_deviation == pytest.approx(said.run_deviation, abs=1e-10)
        assert again.surrogates[name].q2 == pytest.approx(one.q2)
    for name, moved in fit.sensitivities.items():
        assert again.sensitivities[name].indices.total == pytest.approx(moved.indices.total)
    assert [one.reason for one in again.proposals] == [one.reason for one in fit.proposals]
    assert again.proposals[1].point == pytest.approx(fit.proposals[1].point)
    assert again.runs_sha256 == runs_sha256(runs())


def test_more_runs_make_a_fit_old_and_not_unreadable(fit: TuningFit, tmp_path: Path) -> None:
    """The rows that it knows are found by name, wherever they stand now."""
    write_fit(tmp_path / "fit.json", fit, runs())
    turned = runs().select(np.arange(14)[::-1])
    again = read_fit(tmp_path / "fit.json", turned)
    assert again
    assert again.runs_sha256 != runs_sha256(turned)
    cube = np.array([[0.2, 0.8]])
    expected = fit.surrogates["train"].predict_cube(cube).mean
    assert again.surrogates["train"].predict_cube(cube).mean == pytest.approx(expected)


def test_no_file_is_no_fit_and_a_wrong_one_is_refused(fit: TuningFit, tmp_path: Path) -> None:
    """Torn, of another version, of other parameters or of runs that are gone: one sentence each."""
    file = tmp_path / "fit.json"
    assert read_fit(file, runs()) is None
    write_fit(file, fit, runs())
    content = json.loads(file.read_text(encoding="utf-8"))
    for change, words in (
        ({"form": 99}, "it was written by another version of the program"),
        ({"parameters": ["a", "c"]}, "it has other parameters"),
        ({"proposals": [{}]}, "it does not fit these runs"),
    ):
        file.write_text(json.dumps(content | change), encoding="utf-8")
        with pytest.raises(FormatError, match=words):
            read_fit(file, runs())
    file.write_text("{", encoding="utf-8")
    with pytest.raises(FormatError, match="cannot be read; fit the surrogates again"):
        read_fit(file, runs())


def test_a_fit_of_runs_that_are_gone_is_refused(fit: TuningFit, tmp_path: Path) -> None:
    """Runs that were deleted are asked for by name."""
    write_fit(tmp_path / "fit.json", fit, runs())
    with pytest.raises(FormatError, match="it does not fit these runs"):
        read_fit(tmp_path / "fit.json", runs().select(np.arange(10)))


def test_too_few_runs_are_refused() -> None:
    """Four runs make no surrogate, and outcomes that few runs have are left out."""
    with pytest.raises(SettingsError, match="too few for a surrogate"):
        fit_everything(runs().select(np.arange(4)), GOAL)
    sparse = np.where(np.arange(14) < 3, 0.5, np.nan)
    table = runs()
    more = RunTable(
        space=SPACE,
        points=table.points,
        status=table.status,
        outcomes={**table.outcomes, "load case/rare": sparse},
        rounds=table.rounds,
        identities=table.identities,
    )
    assert "load case/rare" not in fitted_outcomes(more, GOAL)


def test_the_sensitivities_become_a_data_frame(fit: TuningFit) -> None:
    """One row a parameter of each outcome that moves; what moves the held-out rating is ``a`` alone."""
    table = fit.to_frame()
    assert len(table) == 2 * len(fit.sensitivities)
    pull = table[table["outcome"] == "load case/pull"].set_index("parameter")
    assert pull.loc["a", "total"] > 0.9
    assert pull.loc["b", "total"] < 0.1
    assert pull.loc["a", "change"] == pytest.approx(0.1, abs=0.02)
