"""The picture of all releases."""

from __future__ import annotations

import pytest

from correlate import TrendPoint
from correlate.plots import DARK, LIGHT, trend_figure

POINTS = [
    TrendPoint(release="A1", training=0.7, held_out=0.6),
    TrendPoint(release="A2 <b>", training=0.8, held_out=None),
    TrendPoint(release="A3", training=0.85, held_out=0.9),
]


def test_every_number_is_drawn_and_one_release_is_written_out() -> None:
    """Both lines hold their numbers, a gap where there is none; the release in question has figures."""
    training, held_out = trend_figure(POINTS, theme="light", release="A3").data
    assert list(training.y) == [0.7, 0.8, 0.85]
    assert list(held_out.y) == [0.6, None, 0.9]
    assert list(training.text) == ["", "", "0.850"]
    assert list(held_out.text) == ["", "", "0.900"]


def test_figures_stand_away_from_the_other_line() -> None:
    """The higher number has its figures above, the lower below."""
    training, held_out = trend_figure(POINTS, theme="light", release="A3").data
    assert (training.textposition[0], held_out.textposition[0]) == ("top left", "bottom right")
    assert (training.textposition[2], held_out.textposition[2]) == ("bottom right", "top left")


def test_nothing_held_out_makes_one_line() -> None:
    """A line without a single number is left out."""
    points = [TrendPoint(release="A1", training=0.7, held_out=None)]
    assert len(trend_figure(points, theme="light", release="A1").data) == 1


def test_lines_are_told_apart_without_colour() -> None:
    """Dashes and marks differ, not only colours."""
    training, held_out = trend_figure(POINTS, theme="dark", release="A3").data
    assert training.line.dash != held_out.line.dash
    assert training.marker.symbol != held_out.marker.symbol


def test_the_ceiling_is_a_line_with_its_word() -> None:
    """It lies at its height and inside the axis; without one there is none."""
    figure = trend_figure(POINTS, theme="light", release="A3", ceiling=0.97)
    assert 0.97 in [shape.y0 for shape in figure.layout.shapes]
    assert "ceiling" in [note.text for note in figure.layout.annotations]
    low, high = figure.layout.yaxis.range
    assert low < 0.6
    assert high >= 0.97
    without = trend_figure(POINTS, theme="light", release="A3")
    assert "ceiling" not in [note.text for note in without.layout.annotations]


@pytest.mark.parametrize("count", [1, 12, 13, 40])
def test_names_thin_out_and_the_last_stays(count: int) -> None:
    """At most a dozen or so names stand under the axis, the last release always among them."""
    points = [TrendPoint(release=f"B{place}", training=0.5, held_out=None) for place in range(count)]
    axis = trend_figure(points, theme="light", release="B0").layout.xaxis
    assert len(axis.ticktext) <= 12
    assert axis.ticktext[-1] == f"B{count - 1}"


def test_names_of_files_are_not_markup_and_colours_follow_the_theme() -> None:
    """Angle brackets stay text; light and dark have their own paper."""
    light = trend_figure(POINTS, theme="light", release="A3")
    assert "A2 &lt;b&gt;" in light.layout.xaxis.ticktext
    assert light.layout.paper_bgcolor == LIGHT.panel
    assert trend_figure(POINTS, theme="dark", release="A3").layout.paper_bgcolor == DARK.panel


def test_a_release_on_incomplete_evidence_says_so() -> None:
    """What a number stands on less than it should is told with it."""
    marked = [*POINTS[:2], TrendPoint(release="A3", training=0.85, held_out=0.9, marks=("stale",))]
    for line in trend_figure(marked, theme="light", release="A3").data:
        assert [name.endswith(", stale") for name in line.customdata] == [False, False, True]
