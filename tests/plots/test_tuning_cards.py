"""Figures of the cards."""

from __future__ import annotations

from dataclasses import replace

import pytest

from correlate.plots.tuning_cards import card_intervals_figure, reached_curve_figure
from tests.tuning.test_cards import cards


def test_each_parameter_has_its_interval_start_and_best_run() -> None:
    """In shares of its range on its own scale; the values with units are in the text."""
    found = cards()
    logarithmic = replace(
        found.intervals[1], scale="log", lower=1.0, upper=4.0, start=2.0, median=2.0, low=1.0, high=4.0
    )
    figure = card_intervals_figure(replace(found, intervals=(found.intervals[0], logarithmic)))
    _, median, start, best = figure.data
    assert list(median.y) == ["x1 [1]", "x0 [1]"]
    assert list(median.x) == pytest.approx([0.5, 0.5])
    assert list(median.error_x.array) == pytest.approx([0.5, 0.1])
    assert list(start.x) == pytest.approx([0.5, 0.5])
    assert best.name == "best run"
    assert "95 % between 0.8 and 1.2" in median.text[1]


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_the_parts_where_no_card_helps_are_shaded(theme: str) -> None:
    """From 62 to 81 ms, on this channel only; the axes have units."""
    found = cards()
    figure = reached_curve_figure(found, found.channels[0], theme=theme)  # type: ignore[arg-type]
    (shape,) = figure.layout.shapes
    assert (shape.x0, shape.x1) == pytest.approx((62.0, 81.0))
    assert figure.layout.xaxis.title.text == "time [ms]"
    assert figure.layout.yaxis.title.text == "My [Nm]"
    assert {trace.name for trace in figure.data} >= {"mean of the tests", "best-fit parameters"}
    other = replace(found.channels[0], channel="Fx")
    assert not reached_curve_figure(found, other).layout.shapes
