"""The picture of a pair: what is drawn, where, and in which unit."""

from __future__ import annotations

import numpy as np
import pytest

from correlate.plots import DARK, LIGHT, Theme, pair_figure, palette
from tests.plots.scores import late_model


def test_both_curves_are_drawn_in_ms_and_in_their_unit() -> None:
    """Test and model carry the samples of the pair over a time in ms, as 4-byte numbers."""
    score = late_model()
    drawn = {trace.name: trace for trace in pair_figure(score, theme="light").data}
    assert drawn["test"].x == pytest.approx(score.rating.pair.time * 1e3, abs=1e-5)
    assert drawn["test"].y == pytest.approx(score.rating.pair.reference, abs=1e-4)
    assert drawn["model"].y == pytest.approx(score.rating.pair.candidate, abs=1e-4)
    assert drawn["test"].x.dtype == drawn["test"].y.dtype == np.float32


def test_corridors_lie_around_the_test() -> None:
    """The bands are 5 % and 50 % of the largest absolute value of the test to either side."""
    score = late_model()
    figure = pair_figure(score, theme="light")
    drawn = {trace.name: np.asarray(trace.y, dtype=float) for trace in figure.data}
    peak = np.abs(score.rating.pair.reference).max()
    for name, lower, share in (
        ("±5 % corridor", "inner corridor, lower edge", 0.05),
        ("±50 % corridor", "outer corridor, lower edge", 0.50),
    ):
        assert drawn[name] - drawn["test"] == pytest.approx(share * peak, abs=1e-3)
        assert drawn["test"] - drawn[lower] == pytest.approx(share * peak, abs=1e-3)


def test_an_upper_edge_fills_down_to_its_lower_edge() -> None:
    """Each band is the area between two edges that follow each other, the outer one first."""
    data = pair_figure(late_model(), theme="light").data
    assert [trace.fill for trace in data[:4]] == [None, "tonexty", None, "tonexty"]
    assert data[1].fillcolor == LIGHT.outer_band
    assert data[3].fillcolor == LIGHT.inner_band


def test_the_lower_panel_shows_the_score_of_every_sample() -> None:
    """The curve below is the corridor score sample by sample, written out here from the formula."""
    score = late_model()
    pair = score.rating.pair
    peak = max(abs(value) for value in pair.reference)
    expected = [
        min(1.0, max(0.0, (0.5 * peak - abs(test - model)) / (0.45 * peak))) ** 2
        for test, model in zip(pair.reference, pair.candidate, strict=True)
    ]
    drawn = {trace.name: trace for trace in pair_figure(score, theme="light").data}["corridor score"]
    assert drawn.y == pytest.approx(expected, abs=1e-6)
    assert drawn.yaxis == "y2"


def test_axes_name_quantity_and_unit() -> None:
    """Each axis has a title with its unit in brackets, and the interval is named."""
    layout = pair_figure(late_model(), theme="light").layout
    assert layout.yaxis.title.text == "Head acceleration X [m/s²]"
    assert layout.xaxis.title.text == "time [ms] · interval of evaluation 0 ms to 40 ms"
    assert layout.yaxis2.title.text.endswith("[1]")
    assert tuple(layout.xaxis.range) == pytest.approx((0.0, 40.0))


def test_both_panels_share_one_time_axis() -> None:
    """Every trace hangs on the same time axis, so that cursor and zoom are shared."""
    figure = pair_figure(late_model(), theme="light")
    assert {trace.xaxis or "x" for trace in figure.data} == {"x"}
    assert figure.layout.hoversubplots == "axis"


def test_lines_are_vectors() -> None:
    """Everything is an SVG scatter; WebGL fails under the content policy."""
    assert {trace.type for trace in pair_figure(late_model(), theme="light").data} == {"scatter"}


def test_test_and_model_differ_in_more_than_colour() -> None:
    """The model is dashed, the test is not."""
    drawn = {trace.name: trace for trace in pair_figure(late_model(), theme="light").data}
    assert drawn["model"].line.dash
    assert not drawn["test"].line.dash


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_colours_come_from_the_palette(theme: Theme) -> None:
    """Curves and background use the colours of the theme."""
    figure = pair_figure(late_model(), theme=theme)
    drawn = {trace.name: trace for trace in figure.data}
    assert drawn["test"].line.color == palette(theme).test
    assert drawn["model"].line.color == palette(theme).model
    assert figure.layout.paper_bgcolor == palette(theme).panel
    assert LIGHT.panel != DARK.panel


def test_a_long_curve_keeps_its_peak() -> None:
    """Three seconds on 0.1 ms are drawn with fewer points, the extremes among them."""
    score = late_model(end_s=3.0)
    drawn = {trace.name: trace for trace in pair_figure(score, theme="light").data}["test"]
    assert len(drawn.y) < len(score.rating.pair) / 5
    assert float(drawn.y.max()) == pytest.approx(float(score.rating.pair.reference.max()), rel=1e-6)


def test_names_from_files_are_not_markup() -> None:
    """A channel name with angle brackets is shown, not interpreted."""
    layout = pair_figure(late_model(test_channel="<b>head</b> & more"), theme="light").layout
    assert layout.yaxis.title.text.startswith("&lt;b&gt;head&lt;/b&gt; &amp; more")


def test_the_legend_names_what_is_seen() -> None:
    """Both curves and both corridors are in the legend, in this order, each once."""
    data = pair_figure(late_model(), theme="light").data
    listed = sorted(
        (trace for trace in data if trace.showlegend is not False), key=lambda one: one.legendrank
    )
    assert [trace.name for trace in listed] == ["test", "model", "±5 % corridor", "±50 % corridor"]
