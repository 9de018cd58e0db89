"""All runs side by side on parallel axes."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.plots.tuning import parallel_axes_figure
from correlate.tuning.parameters import Parameter, ParameterSpace
from tests.tuning.functions import run_table

SPACE = ParameterSpace(
    (
        Parameter(name="weak <b>", unit="1", lower=0, upper=1, start=0.5),
        Parameter(name="strong", unit="MPa", lower=1, upper=100, scale="log", start=10),
    )
)
POINTS = np.array([[0.0, 1.0], [0.5, 10.0], [1.0, 100.0], [0.25, 10.0]])
TABLE = run_table(
    SPACE,
    POINTS,
    {"train": np.array([0.2, 0.6, 0.4, np.nan]), "flat": np.ones(4)},
    status=["done"] * 3 + ["failed"],
)


def test_a_line_a_finished_run_an_axis_a_number() -> None:
    """Logarithmic parameters and outcomes go from 0 to 1 of what they span; a flat one is in the middle."""
    figure = parallel_axes_figure(TABLE, ["flat", "train"], theme="light", best=1)
    low, middle, high, best = figure.data
    assert [one.name for one in figure.data][:3] == [
        "lowest third of train",
        "middle third of train",
        "highest third of train",
    ]
    assert low.y[:4] == pytest.approx([0, 0, 0.5, 0])
    assert middle.y[:4] == pytest.approx([1, 1, 0.5, 0.5])
    assert high.y[:4] == pytest.approx([0.5, 0.5, 0.5, 1])
    assert best.y[:4] == pytest.approx(high.y[:4])
    assert np.isnan(low.y[4])
    assert list(low.x[:4]) == [0, 1, 2, 3]


def test_axes_have_names_units_and_ends() -> None:
    """Names are text, not markup; both ends of each axis stand at it; a line says its run and value."""
    figure = parallel_axes_figure(TABLE, ["train"], theme="dark")
    assert list(figure.layout.xaxis.ticktext) == ["weak &lt;b&gt;<br>[1]", "strong<br>[MPa]", "train"]
    assert [one.text for one in figure.layout.annotations] == ["0", "1", "1", "100", "0.200", "0.600"]
    assert figure.data[2].text[1].endswith("strong 10 MPa")
    assert figure.data[2].text[2].endswith("train 0.600")


def test_a_long_name_stands_upright_over_several_lines() -> None:
    """Broken where its words end, none of them lost, and each line as narrow as an axis."""
    name = "upper_neck_flexion_stiffness"
    one = Parameter(name=name, unit="N*m/rad", lower=0, upper=1, start=0.5)
    table = run_table(ParameterSpace((one,)), POINTS[:, :1], {"train": np.array([0.2, 0.4, 0.6, 0.5])})
    axis = parallel_axes_figure(table, ["train"], theme="light").layout.xaxis
    lines = axis.ticktext[0].split("<br>")
    assert "".join(lines).replace(" ", "") == f"{name}[N*m/rad]"
    assert lines[-1] == "[N*m/rad]"
    assert max(map(len, lines)) <= 11
    assert axis.tickangle == 0


def test_nothing_in_it_needs_webgl() -> None:
    """The content policy of the dashboard forbids what WebGL would need, silently."""
    kinds = {trace.type for trace in parallel_axes_figure(TABLE, ["train"], theme="light").data}
    assert kinds == {"scatter"}


def test_what_cannot_be_drawn_is_said() -> None:
    """No outcome, or no run that has them all."""
    with pytest.raises(SettingsError, match="no outcome is named"):
        parallel_axes_figure(TABLE, [], theme="light")
    nothing = run_table(SPACE, POINTS, {"train": np.full(4, np.nan)})
    with pytest.raises(SettingsError, match="no finished run has all these outcomes"):
        parallel_axes_figure(nothing, ["train"], theme="light")
