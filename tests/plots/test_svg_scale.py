"""Axes of static drawings: round ticks, ranges that hold the values, places in px."""

from __future__ import annotations

from typing import Any

import numpy as np
import plotly.graph_objects as go
import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.plots.svg_marks import make_scale, nice_ticks


def axis(**settings: Any) -> Any:
    """Return an axis of a figure."""
    return go.Figure(layout={"yaxis": settings}).layout.yaxis


@given(st.floats(-1e6, 1e6), st.floats(1e-3, 1e6), st.integers(min_value=2, max_value=12))
def test_ticks_are_inside_even_and_few(low: float, width: float, most: int) -> None:
    """Ticks lie in the range at one distance, and no more of them than were asked for."""
    ticks = nice_ticks(low, low + width, most)
    assert len(ticks) <= most
    slack = 1e-6 * (width + abs(low))
    assert all(low - slack <= tick <= low + width + slack for tick in ticks)
    if len(ticks) > 2:
        steps = np.diff(ticks)
        assert np.allclose(steps, steps[0], rtol=1e-6, atol=slack)


@given(st.lists(st.floats(-1e4, 1e4), min_size=1, max_size=30))
def test_every_value_lies_on_the_panel(values: list[float]) -> None:
    """Without a range of its own an axis holds all values between its ends."""
    scale = make_scale(axis(), [values], start=300.0, end=20.0, tight=False)
    assert all(20.0 - 1e-6 <= scale.at(value) <= 300.0 + 1e-6 for value in values)


def test_a_set_range_is_kept() -> None:
    """Both ends of the range lie at the ends of the panel, and values in between in proportion."""
    scale = make_scale(axis(range=[0, 2]), [[5.0]], start=100.0, end=0.0, tight=False)
    assert [scale.at(value) for value in (0.0, 0.5, 2.0)] == [100.0, 75.0, 0.0]


def test_given_ticks_are_kept_with_their_texts() -> None:
    """Ticks of the figure go before ticks found here; one outside the range is left out."""
    settings = axis(range=[0, 1], tickvals=[0, 0.5, 7], ticktext=["none", "half", "far"])
    scale = make_scale(settings, [], start=0, end=1, tight=True)
    assert scale.ticks == ((0.0, "none"), (0.5, "half"))


def test_the_form_of_tick_labels_is_kept() -> None:
    """Labels have the decimals that the figure asks for and a true minus sign."""
    scale = make_scale(axis(range=[-0.1, 0.1], tickformat=".2f", nticks=3), [], start=0, end=1, tight=True)
    assert [text for _, text in scale.ticks] == ["−0.10", "0.00", "0.10"]


@pytest.mark.parametrize("values", [[], [[float("nan")]], [[3.0, 3.0]]])
def test_an_axis_without_extent_still_has_one(values: list[list[float]]) -> None:
    """No value, no finite value, or one value alone: the axis has a length all the same."""
    scale = make_scale(axis(), values, start=0, end=10, tight=True)
    assert scale.low < scale.high


def test_bars_stand_on_zero() -> None:
    """An axis that must reach zero has it at its very end."""
    scale = make_scale(axis(rangemode="tozero"), [[2.0, 4.0]], start=100.0, end=0.0, tight=False)
    assert scale.at(0.0) == pytest.approx(100.0)
