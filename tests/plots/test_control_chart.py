"""The control chart of a dummy: lines, marks by shape, exchanges, and sentences beside it."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from correlate import history
from correlate.plots import control_chart_figure, history_sentences
from tests.laboratory.test_timeline import SCATTER, filled

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import QuantityHistory
    from correlate.plots import Theme


def quantity(folder: Path, peaks: list[float]) -> QuantityHistory:
    """Return the history of the one quantity of twelve pushes or fewer."""
    (test,) = history(filled(folder, peaks), "KM-W-002")
    return test.quantities[0]


def trace(figure: Any, name: str) -> Any:
    """Return a trace by its name."""
    return next(one for one in figure.data if one.name == name)


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_lines_window_and_exchange_are_drawn(tmp_path: Path, theme: Theme) -> None:
    """Values and ranges, limits that break at the exchange, the window as a band, units on both axes."""
    found = quantity(tmp_path, [50 + one + (4 if at >= 5 else 0) for at, one in enumerate(SCATTER)])
    figure = control_chart_figure(found, theme=theme)
    assert list(trace(figure, "test").y) == list(found.values)
    assert list(trace(figure, "mean").y).count(None) == 1
    assert list(trace(figure, "moving range").y).count(None) == 2
    window, exchange = figure.layout.shapes
    assert (window.y0, window.y1) == (40, 60)
    assert exchange.x0 == "2025-06-01"
    assert figure.layout.annotations[0].text == "rib set exchanged"
    assert figure.layout.yaxis.title.text == "Peak of the pelvis acceleration [g]"
    assert figure.layout.yaxis2.title.text == "moving range [g]"


@pytest.mark.parametrize(("newest", "mark"), [(50.1, "circle"), (55.0, "square"), (65.0, "x")])
def test_alarms_and_values_outside_differ_by_shape(tmp_path: Path, newest: float, mark: str) -> None:
    """A dot as usual, a square for an alarm within the window, a cross outside it; sentences name the day."""
    steady = [50.0, 50.1, 49.9, 50.0, 50.1, 50.0, 50.1, 49.9, 50.0, 50.1, 50.0]
    found = quantity(tmp_path, [*steady, newest])
    assert list(trace(control_chart_figure(found), "test").marker.symbol) == ["circle"] * 11 + [mark]
    told = history_sentences(found)
    assert ("Outside the window: 2025-12-15." in told) == (mark == "x")
    assert ("Control chart: no alarm." in told) == (mark == "circle")
    assert found.has_signal == (mark != "circle")


def test_few_tests_have_no_limits(tmp_path: Path) -> None:
    """The values and the window are drawn, and the sentences say so."""
    found = quantity(tmp_path, [50.0, 51.0])
    assert [one.name for one in control_chart_figure(found).data] == ["test"]
    assert "Too few tests for control limits." in history_sentences(found)


def test_a_step_is_told_with_its_day(tmp_path: Path) -> None:
    """Three g more from October on."""
    found = quantity(tmp_path, [50 + one + (3 if at >= 9 else 0) for at, one in enumerate(SCATTER)])
    assert found.changes.is_step
    assert any(one.startswith("Step: +3") and "from 2025-10-15 on" in one for one in history_sentences(found))
