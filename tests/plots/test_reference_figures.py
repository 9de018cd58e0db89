"""Pictures of repeats, cross-plots and findings."""

from __future__ import annotations

import numpy as np
import pytest

from correlate import Finding, Recipe
from correlate.plots.palette import palette
from correlate.plots.repeats import cross_plot_figure, finding_figure, repeats_figure
from correlate.reference.corridor import spread_corridor
from correlate.reference.cross_plot import CrossPlot, cross_plot_corridor
from correlate.reference.repeats import repeat_set
from tests.reference.curves import pulse

REPEATS = repeat_set([pulse(size=size) for size in (95, 100, 108)], Recipe(start_s=0.0, end_s=0.05))


def test_repeats_with_corridor_mean_and_model() -> None:
    """Every curve is drawn with its own numbers, in ms; the model only over the interval of the repeats."""
    corridor = spread_corridor(REPEATS, times=2)
    figure = repeats_figure(REPEATS, theme="light", corridor=corridor, model=pulse(size=90))
    by_name = {trace.name: trace for trace in figure.data}
    assert set(by_name) >= {"mean ± 2 SD", "mean of the repeats", "model", "repeat 1", "repeat 3"}
    mean = by_name["mean of the repeats"]
    assert np.asarray(mean.y) == pytest.approx(REPEATS.mean, rel=1e-6)
    assert (mean.x[0], mean.x[-1]) == pytest.approx((0, 50))
    assert (by_name["model"].x[0], by_name["model"].x[-1]) == pytest.approx((0, 50))
    assert np.asarray(by_name["mean ± 2 SD"].y) == pytest.approx(corridor.upper, rel=1e-6, abs=1e-6)


def test_a_cross_plot_fills_what_its_ellipses_sweep() -> None:
    """The depth behind the filled area is at most 1 on the mean path."""
    angle = np.linspace(0, np.pi, 300)
    paths = [CrossPlot(x=r * np.cos(angle), y=r * np.sin(angle)) for r in (0.9, 1.0, 1.1)]
    corridor = cross_plot_corridor(paths)
    figure = cross_plot_figure(
        corridor, paths, theme="dark", x_title="deflection [mm]", y_title="force <b>[kN]", model=paths[0]
    )
    area = figure.data[0]
    column, row = np.abs(np.asarray(area.x) - 0.0).argmin(), np.abs(np.asarray(area.y) - 1.0).argmin()
    assert area.z[row][column] < 1
    assert area.z[0][0] > 1
    assert figure.layout.yaxis.title.text == "force &lt;b&gt;[kN]"
    assert [trace.name for trace in figure.data][-1] == "model"


def test_a_finding_marks_its_span_however_short() -> None:
    """One sample is drawn wide enough to be seen, around its time."""
    signal = pulse()
    finding = Finding(
        kind="spike",
        severity="error",
        file="t",
        channel=signal.channel,
        what="w",
        remedy="r",
        start_s=0.012,
        end_s=0.012,
    )
    figure = finding_figure(finding, signal, theme="light", others=[pulse(late_s=0.001)])
    (mark,) = figure.layout.shapes
    assert mark.x0 < 12 < mark.x1
    assert mark.line.color == palette("light").alert
    assert [trace.name for trace in figure.data] == ["other repeats", "this channel"]
    without = Finding(kind="copy", severity="error", file="t", channel="c", what="w", remedy="r")
    assert finding_figure(without, signal, theme="light").layout.shapes == ()
