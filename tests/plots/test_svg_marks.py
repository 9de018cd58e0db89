"""Traces of static drawings: paths that keep the curve, gaps, bars, marks, refusals."""

from __future__ import annotations

import re
from typing import Any

import numpy as np
import plotly.graph_objects as go
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.errors import SettingsError
from correlate.plots.svg_marks import Scale, draw_bars, draw_scatter, make_scale, mark, path_data, stroke


def scale(low: float, high: float, start: float, end: float) -> Scale:
    """Return an axis with a range."""
    layout = go.Figure(layout={"xaxis": {"range": [low, high]}}).layout.xaxis
    return make_scale(layout, [], start=start, end=end, tight=True)


def drawn_points(data: str) -> list[list[tuple[float, float]]]:
    """Read a path back by its own grammar: one list of points in px for each stroke."""
    strokes = []
    for piece in re.findall(r"M[^M]*", data):
        numbers = [int(one) for one in re.findall(r"-?\d+", piece)]
        steps = np.array(numbers, dtype=float).reshape(-1, 2)
        strokes.append([(x / 10, y / 10) for x, y in np.cumsum(steps, axis=0)])
    return strokes


@given(st.lists(st.floats(0, 500), min_size=2, max_size=60))
def test_the_drawn_line_is_the_curve(heights: list[float]) -> None:
    """At each sample the drawn line is within a tenth of a px of the curve."""
    x = 2.0 * np.arange(len(heights))
    (points,) = drawn_points(path_data(np.asarray(x, dtype=np.float64), np.array(heights)))
    drawn = np.interp(x, *np.transpose(points))
    assert np.abs(drawn - heights).max() <= 0.1 + 1e-9


def test_a_missing_value_breaks_the_line() -> None:
    """The line is drawn up to the gap and again behind it."""
    y = np.array([1.0, 2.0, np.nan, 4.0, 3.0])
    assert drawn_points(path_data(np.arange(5.0), y)) == [[(0, 1), (1, 2)], [(3, 4), (4, 3)]]


def test_a_turn_back_on_the_same_line_is_kept() -> None:
    """A spike of one px width is drawn: what turns round is no needless point."""
    data = path_data(np.zeros(3), np.array([0.0, 9.0, 4.0]))
    assert drawn_points(data) == [[(0, 0), (0, 9), (0, 4)]]


def test_bars_stand_on_each_other() -> None:
    """Two rows of bars: the second begins where the first ends, and nothing is drawn for a zero."""
    traces = [
        go.Bar(x=[1, 3], y=[2, 1], width=2, marker={"color": "#111111"}),
        go.Bar(x=[1, 3], y=[3, 0], width=2, marker={"color": "#222222"}),
    ]
    first, second = draw_bars(traces, scale(0, 4, 0, 40), scale(0, 10, 100, 0))
    assert 'd="M0.0 100.0H20.0V80.0H0.0zM20.0 100.0H40.0V90.0H20.0z"' in first
    assert 'd="M0.0 80.0H20.0V50.0H0.0z"' in second


def test_the_band_lies_between_both_edges() -> None:
    """A fill to the next curve runs along one edge and back along the other."""
    axes = scale(0, 2, 0, 20), scale(0, 10, 100, 0)
    trace = go.Scatter(
        x=[0, 2], y=[6, 6], fill="tonexty", fillcolor="#abcdef", mode="lines", line={"color": "#000"}
    )
    before = np.array([0.0, 20.0]), np.array([80.0, 80.0])
    area = next(draw_scatter(trace, before, *axes))
    assert 'fill="#abcdef"' in area
    data = re.search(r'd="([^"]*)z"', area)
    assert data
    assert drawn_points(data[1]) == [[(0, 80), (20, 80), (20, 40), (0, 40)]]


def test_texts_stand_beside_their_marks() -> None:
    """A text to the top left ends before its mark and above it; an empty text is not written."""
    trace = go.Scatter(
        x=[0, 1],
        y=[5, 5],
        mode="markers+text",
        text=["", "0.850"],
        textposition=["top left", "top left"],
        textfont={"color": "#123456", "size": 10},
        marker={"size": [8, 11], "symbol": "diamond", "color": "#123456"},
    )
    found = list(draw_scatter(trace, None, scale(0, 2, 0, 20), scale(0, 10, 100, 0)))
    (text,) = [one for one in found if one.startswith("<text")]
    assert len(found) == 3
    assert 'x="7.0" y="43.0"' in text
    assert 'text-anchor="end"' in text


@pytest.mark.parametrize(
    ("draw", "words"),
    [
        (lambda: mark("star", 0, 0, 5, "#000"), "the mark 'star' has no static drawing"),
        (
            lambda: list(
                draw_scatter(
                    go.Scatter(x=[0, 1], y=[0, 1], fill="toself", fillcolor="#000"),
                    None,
                    scale(0, 1, 0, 1),
                    scale(0, 1, 0, 1),
                )
            ),
            "a curve filled 'toself' has no static drawing",
        ),
    ],
)
def test_what_cannot_be_drawn_is_refused(draw: Any, words: str) -> None:
    """Nothing is left out of a drawing in silence."""
    with pytest.raises(SettingsError, match=words):
        draw()


def test_dashes_are_kept() -> None:
    """Lengths of the figure go before words; a solid line has none."""
    assert 'stroke-dasharray="9 3"' in stroke(go.scatter.Line(color="#000", width=2, dash="9px,3px"))
    assert "dasharray" not in stroke(go.scatter.Line(color="#000", width=2))
