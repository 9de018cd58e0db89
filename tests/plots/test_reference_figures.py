"""Pictures of repeats, cross-plots and findings."""

from __future__ import annotations

from itertools import pairwise
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import Finding, Recipe
from correlate.plots.palette import palette, repeat_colours
from correlate.plots.repeats import RepeatLine, cross_plot_figure, finding_figure, repeats_figure
from correlate.reference.arc_length import CrossPlot
from correlate.reference.corridor import spread_corridor
from correlate.reference.cross_plot import cross_plot_corridor
from correlate.reference.repeats import repeat_set
from tests.reference.curves import pulse

if TYPE_CHECKING:
    from correlate.plots.palette import Theme

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


def test_named_repeats_are_told_apart_and_a_faulty_one_is_marked() -> None:
    """Names, no two lines alike, the fault dashed and labelled; what is not shown is still in the mean."""
    lines = [
        RepeatLine(name="T1 <b>"),
        RepeatLine(name="T2", fault="spike"),
        RepeatLine(name="T3", is_shown=False, fault="offset"),
    ]
    figure = repeats_figure(REPEATS, theme="light", lines=lines)
    names = [trace.name for trace in figure.data]
    assert names == ["T1 &lt;b&gt;", "T2, spike", "mean of the repeats"]
    sound, faulty, mean = figure.data
    assert (sound.line.dash, faulty.line.dash) == (None, "5px,4px")
    assert faulty.line.width > sound.line.width
    assert np.asarray(mean.y) == pytest.approx(REPEATS.mean, rel=1e-6)
    (mark,) = figure.layout.annotations
    assert mark.text == "T2: spike"
    at = np.abs(REPEATS.time_s * 1e3 - mark.x).argmin()
    assert mark.y == pytest.approx(REPEATS.curves[1][at])


def test_a_picked_repeat_stands_before_the_others() -> None:
    """It is drawn last of the repeats and widest, the others are pale; hidden, it makes nothing pale."""
    lines = [RepeatLine(name="T1", is_picked=True), RepeatLine(name="T2"), RepeatLine(name="T3")]
    traces = repeats_figure(REPEATS, theme="dark", lines=lines).data
    assert [trace.name for trace in traces[:3]] == ["T2", "T3", "T1"]
    assert traces[2].opacity == 1.0
    assert max(trace.opacity for trace in traces[:2]) < 0.5
    assert traces[2].line.width > traces[0].line.width
    hidden = [RepeatLine(name="T1", is_picked=True, is_shown=False), *lines[1:]]
    assert {trace.opacity for trace in repeats_figure(REPEATS, lines=hidden).data[:2]} == {1.0}


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_colours_of_repeats_can_be_seen_and_told_apart(theme: Theme) -> None:
    """Each has at least three times the luminance of the panel or a third of it, and neighbours differ."""
    panel = luminance(palette(theme).panel)
    shades = [luminance(colour) for colour in repeat_colours(theme)]
    for shade in shades:
        assert (max(shade, panel) + 0.05) / (min(shade, panel) + 0.05) >= 3
    assert all(abs(a - b) > 0.02 for a, b in pairwise(shades))


def luminance(colour: str) -> float:
    """Return the relative luminance of a colour, after WCAG 2.1."""
    parts = [int(colour[place : place + 2], 16) / 255 for place in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


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
