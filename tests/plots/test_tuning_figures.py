"""Pictures of tuning."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.plots.palette import palette
from correlate.plots.tuning import (
    front_figure,
    movers_figure,
    predicted_figure,
    progress_figure,
    screening_figure,
    sensitivity_figure,
    slice_figure,
)
from correlate.tuning.definition import TuningGoal
from correlate.tuning.guards import rounds_of
from correlate.tuning.parameters import Parameter, ParameterSpace
from correlate.tuning.search import pareto_front
from correlate.tuning.sensitivity import Screening, sensitivity
from correlate.tuning.surrogate import fit_surrogate
from tests.tuning.functions import run_table

SPACE = ParameterSpace(
    (
        Parameter(name="weak <b>", unit="1", lower=0, upper=1, start=0.5),
        Parameter(name="strong", unit="MPa", lower=1, upper=100, scale="log", start=10),
    )
)
CUBE = np.vstack([[0.5, 0.5], np.random.default_rng(0).random((14, 2))])
TABLE = run_table(
    SPACE,
    SPACE.from_unit(CUBE),
    {
        "train": 0.2 * CUBE[:, 0] + CUBE[:, 1],
        "load case/h": 1 - CUBE[:, 1],
        "flat": np.ones(15),
    },
    status=["done"] * 14 + ["failed"],
    rounds=[0] * 10 + [1] * 5,
)
SURROGATE = fit_surrogate(TABLE, "train")


def test_sensitivity_bars_hold_indices_and_intervals() -> None:
    """The strongest parameter is on top, that is last; the bars end at the interval; markup is made safe."""
    said = sensitivity(SURROGATE, power=6)
    alone, total = sensitivity_figure(said, theme="light").data
    assert list(total.y) == ["weak &lt;b&gt;", "strong"]
    assert total.x[1] == said.indices.total[1]
    assert total.x[1] + total.error_x.array[1] == pytest.approx(said.indices.total_high[1])
    assert alone.x[0] - alone.error_x.arrayminus[0] == pytest.approx(said.indices.first_low[0])
    table = movers_figure([said, sensitivity(fit_surrogate(TABLE, "flat"))], theme="dark").data[0]
    assert list(table.y) == ["flat", "train"]
    assert table.z[1][1] == pytest.approx(said.indices.total[1], rel=1e-6)
    assert list(table.text[0]) == ["", ""]


def test_screening_bars_hold_effects() -> None:
    """Mean sizes with their half widths, strongest last."""
    said = Screening(
        outcome="train",
        names=("a", "b"),
        mean=np.array([-3.0, 1.0]),
        mean_size=np.array([3.0, 1.0]),
        mean_size_half_width=np.array([0.5, 0.2]),
        spread=np.zeros(2),
        trajectories=4,
    )
    (bars,) = screening_figure(said, theme="light").data
    assert list(bars.y) == ["b", "a"]
    assert list(bars.x) == [1.0, 3.0]
    assert list(bars.error_x.array) == pytest.approx([0.2, 0.5])


def test_predicted_against_rated() -> None:
    """The points are the leave-one-out predictions; the line is where both are equal."""
    line, points = predicted_figure(SURROGATE, theme="light").data
    assert list(line.x) == list(line.y)
    assert points.x == pytest.approx(SURROGATE.left_out.rated)
    assert points.y == pytest.approx(SURROGATE.left_out.predicted)
    assert points.error_y.array == pytest.approx(1.959964 * SURROGATE.left_out.deviation, rel=1e-6)


def test_a_slice_is_the_surrogate_along_one_parameter() -> None:
    """The curve runs over the whole range on the scale of the parameter; finished runs are where they are."""
    point = SPACE.start_point
    figure = slice_figure(SURROGATE, TABLE, 1, point, theme="dark")
    low, high, mean, runs = figure.data
    assert (mean.x[0], mean.x[-1]) == pytest.approx((1, 100))
    assert mean.y[60] == pytest.approx(SURROGATE.predict(point).mean[0], abs=1e-9)
    assert (low.y <= mean.y).all()
    assert (mean.y <= high.y).all()
    assert list(runs.x) == list(TABLE.points[:14, 1])
    assert figure.layout.xaxis.type == "log"
    assert figure.layout.shapes[0].x0 == 10


def test_progress_shows_the_held_out_load_case_beside_the_gain() -> None:
    """One line for what is raised, one for the held-out load case, a thin one where it started."""
    rounds = rounds_of(TABLE, TuningGoal(train=("a",), held_out=("h",), largest_held_out_loss=None))
    best, held_out, start = progress_figure(rounds, theme="light").data
    assert list(best.x) == [0, 1]
    assert list(best.y) == [one.raised["train"] for one in rounds]
    assert list(held_out.y) == [one.held_out["h"] for one in rounds]
    assert list(start.y) == pytest.approx([0.5, 0.5])
    assert held_out.line.color == palette("light").model


def test_the_front_is_drawn_over_the_finished_runs() -> None:
    """All finished runs, and those that no other beats; one outcome has no front."""
    goal = TuningGoal(train=("t",), objective="several", outcomes=("train", "load case/h"))
    front = pareto_front(TABLE, goal)
    runs, best = front_figure(TABLE, front, theme="light").data
    assert len(runs.x) == 14
    assert list(best.x) == front.values[:, 0].tolist()
    single = pareto_front(TABLE, TuningGoal(train=("t",)))
    with pytest.raises(SettingsError, match="no trade-off"):
        front_figure(TABLE, single, theme="light")
