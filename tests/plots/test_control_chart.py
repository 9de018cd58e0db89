"""The control chart of a dummy: lines, marks by shape, exchanges, axes, and sentences beside it."""

from __future__ import annotations

from dataclasses import replace
from datetime import date
from typing import TYPE_CHECKING, Any

import pytest

from correlate import history
from correlate.plots import (
    DARK,
    LIGHT,
    control_chart_figure,
    control_chart_keys,
    history_remarks,
    history_sentences,
)
from tests.laboratory.books import WINDOWS, kept, pushed, register_in
from tests.laboratory.test_timeline import SCATTER, filled

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Exchange, QuantityHistory
    from correlate.plots import Theme

STEADY = [50.0, 50.1, 49.9, 50.0, 50.1, 50.0, 50.1, 49.9, 50.0, 50.1, 50.0]


def quantity(folder: Path, peaks: list[float]) -> QuantityHistory:
    """Return the history of the one quantity of twelve pushes or fewer."""
    (test,) = history(filled(folder, peaks), "KM-W-002")
    return test.quantities[0]


def trace(figure: Any, name: str) -> Any:
    """Return the first trace of a name."""
    return next(one for one in figure.data if one.name == name)


def names(figure: Any) -> list[str]:
    """Return the names of all traces."""
    return [one.name for one in figure.data]


def notes(figure: Any) -> list[str]:
    """Return the texts in the figure."""
    return [one.text for one in figure.layout.annotations]


def exchange_on(found: QuantityHistory, day: date, part: str) -> Exchange:
    """Return an exchange like that of the register, on another day."""
    return found.exchanges[0].exchanges[0].model_copy(update={"date": day, "part": part})


def quantity_without_exchange(found: QuantityHistory) -> QuantityHistory:
    """Return the history of a dummy whose parts are all its first ones."""
    return replace(found, exchanges=())


@pytest.mark.parametrize("theme", ["light", "dark"])
def test_lines_window_and_exchange_are_drawn(tmp_path: Path, theme: Theme) -> None:
    """Values and ranges, limits that break at the exchange, the window, units on both axes."""
    found = quantity(tmp_path, [50 + one + (4 if at >= 5 else 0) for at, one in enumerate(SCATTER)])
    figure = control_chart_figure(found, theme=theme)
    assert [value for value in trace(figure, "single value").y if value is not None] == list(found.values)
    assert list(trace(figure, "single value").y).index(None) == 5
    mean = trace(figure, "mean")
    change = float(date(2025, 6, 1).toordinal())
    assert [mean.x[1], mean.x[3]] == [change, change]
    assert found.chart is not None
    assert [mean.y[0], mean.y[3]] == [found.chart.centre[0], found.chart.centre[11]]
    assert list(trace(figure, "moving range").y).count(None) == 3
    assert {value for value in trace(figure, "window").y if value is not None} == {40.0}
    (upright,) = figure.layout.shapes
    assert (upright.x0, upright.x1, upright.yref) == (change, change, "paper")
    assert "rib set" in notes(figure)
    assert figure.layout.yaxis.title.text == "peak of the pelvis acceleration [g]"
    assert figure.layout.yaxis2.title.text == "moving range<br>[g]"
    assert figure.layout.paper_bgcolor == (LIGHT if theme == "light" else DARK).panel


@pytest.mark.parametrize(
    ("newest", "mark"), [(50.1, ""), (55.0, "outside the control limits"), (65.0, "outside the window")]
)
def test_alarms_and_values_outside_differ_by_shape(tmp_path: Path, newest: float, mark: str) -> None:
    """Each reason has a mark of its own shape around the value; sentences name the day."""
    found = quantity(tmp_path, [*STEADY, newest])
    figure = control_chart_figure(found)
    drawn = {one.name: one for one in figure.data if one.mode == "markers" and one.yaxis != "y2"}
    assert (mark in drawn) == bool(mark)
    symbols = [one.marker.symbol for one in drawn.values()]
    assert len(set(symbols)) == len(symbols)
    assert "circle" not in symbols
    assert all(list(one.y) == [newest] for one in drawn.values())
    told = history_sentences(found)
    assert ("Outside the window: 2025-12-15." in told) == (mark == "outside the window")
    assert ("Control chart: no alarm." in told) == (not mark)
    assert found.has_signal == bool(mark)
    assert any(one.is_open for one in history_remarks(found)) == bool(mark)


def test_tests_of_one_day_are_told_apart_by_their_recordings(tmp_path: Path) -> None:
    """Two tests on the last day: the sentences name the one that is outside, not only the day."""
    register = filled(tmp_path, [*STEADY, 50.0])
    kept(register, pushed(65.0, day="2025-12-15", name="second"))
    (test,) = history(register, "KM-W-002")
    told = history_sentences(test.quantities[0])
    assert "Outside the window: 2025-12-15 second." in told
    assert any(one.startswith("Control chart: 2025-12-15 second (outside the limits") for one in told)


def test_a_large_range_is_marked_in_the_lower_panel(tmp_path: Path) -> None:
    """One value jumps: its range is above the limit."""
    figure = control_chart_figure(quantity(tmp_path, [*STEADY, 55.0]))
    above = trace(figure, "moving range above its limit")
    assert (above.yaxis, list(above.y)) == ("y2", [5.0])
    assert trace(figure, "control limit").y[0] < 5.0


def test_few_tests_have_no_limits(tmp_path: Path) -> None:
    """The values and the window are drawn, and the sentences say so."""
    found = quantity(tmp_path, [50.0, 51.0])
    figure = control_chart_figure(found)
    assert names(figure) == ["window", "window", "single value"]
    assert figure.layout.yaxis2.visible is False
    assert "Too few tests for control limits." in history_sentences(found)


def test_a_step_is_told_and_drawn_with_its_day(tmp_path: Path) -> None:
    """Three g more from October on: the dotted line stands between the tests of September and October."""
    found = quantity(tmp_path, [50 + one + (3 if at >= 9 else 0) for at, one in enumerate(SCATTER)])
    assert found.changes.is_step
    assert any(one.startswith("Step: +3") and "from 2025-10-15 on" in one for one in history_sentences(found))
    dotted = [one for one in control_chart_figure(found).layout.shapes if one.line.dash == "2px,3px"]
    assert [one.x0 for one in dotted] == [
        (date(2025, 9, 15).toordinal() + date(2025, 10, 15).toordinal()) / 2
    ]


def test_a_far_end_of_the_window_is_said_and_not_drawn_to_scale(tmp_path: Path) -> None:
    """A window of 0 to 51 g around values of 50 g: the axis stays near the values."""
    register = register_in(tmp_path)
    windows = WINDOWS.replace("[40, 60]", "[0, 51]")
    for at, (day, peak) in enumerate(zip(range(1, 13), STEADY, strict=False)):
        kept(register, pushed(peak, day=f"2025-{day:02d}-15", name=f"P{at}"), windows=windows)
    (test,) = history(register, "KM-W-002")
    figure = control_chart_figure(test.quantities[0])
    low, high = figure.layout.yaxis.range
    assert 45 < low < high < 55
    assert "lower end of the window, 0 g, is beyond this axis" in notes(figure)
    assert not any(one.startswith("upper end") for one in notes(figure))


def test_a_window_that_changed_is_a_step(tmp_path: Path) -> None:
    """The second result was judged by a narrower one, which begins on its day."""
    register = register_in(tmp_path)
    kept(register, pushed(50.0, day="2025-03-01"))
    narrow = WINDOWS.replace("[40, 60]", "[45, 55]")
    kept(register, pushed(50.0, day="2025-04-01", name="P2"), windows=narrow)
    (test,) = history(register, "KM-W-002")
    lower = trace(control_chart_figure(test.quantities[0]), "window")
    assert [lower.y[0], lower.y[3]] == [40.0, 45.0]
    assert lower.x[1] == lower.x[3] == date(2025, 4, 1).toordinal()


def test_names_of_close_exchanges_stand_in_two_rows_and_a_third_is_left_out(tmp_path: Path) -> None:
    """Three parts within four days after the newest test; markup in a name stays text."""
    found = quantity(tmp_path, [50 + one for one in SCATTER])
    later = [
        exchange_on(found, date(2026, 1, day), part)
        for day, part in ((1, "skin <b>"), (3, "a part with a name that has no end"), (5, "third"))
    ]
    figure = control_chart_figure(found, exchanges=later)
    assert len(figure.layout.shapes) == 4
    heights = {one.text: one.yshift for one in figure.layout.annotations if one.yref == "paper"}
    assert heights["skin &lt;b&gt;"] == 0
    assert heights["a part with a name th…"] == 15
    assert "third" not in heights
    plain = control_chart_figure(quantity_without_exchange(found))
    assert plain.layout.margin.t < figure.layout.margin.t


@pytest.mark.parametrize(
    ("first", "last", "least", "most"),
    [
        ("2025-03-01", "2025-03-01", 1, 1),
        ("2025-03-01", "2025-12-01", 3, 6),
        ("2005-01-01", "2026-01-01", 3, 6),
    ],
)
def test_the_axis_of_days_has_few_ticks(tmp_path: Path, first: str, last: str, least: int, most: int) -> None:
    """One to six of them inside the axis, whatever time it covers."""
    register = register_in(tmp_path)
    for day in sorted({first, last}):
        kept(register, pushed(50.0, day=day, name=day))
    (test,) = history(register, "KM-W-002")
    axis = control_chart_figure(test.quantities[0]).layout.xaxis
    assert least <= len(axis.tickvals) <= most
    assert all(axis.range[0] <= value <= axis.range[1] for value in axis.tickvals)
    assert len(set(axis.ticktext)) == len(axis.ticktext)


def test_a_quantity_without_dimension_has_no_unit_in_its_texts(tmp_path: Path) -> None:
    """Its axis says [1], its hover and sentences no unit."""
    found = replace(quantity(tmp_path, [*STEADY, 55.0]), unit="1")
    figure = control_chart_figure(found)
    assert figure.layout.yaxis.title.text.endswith("[1]")
    assert "%{y:.4g}<extra>" in trace(figure, "single value").hovertemplate
    assert not any(" 1 " in one for one in history_sentences(found) if one.startswith("Exchange"))


def test_the_legend_names_everything_once_with_its_look(tmp_path: Path) -> None:
    """Lines by width and dashes, marks by a letter of their shape; only what is drawn."""
    keys = {one.words: one for one in control_chart_keys(control_chart_figure(quantity(tmp_path, STEADY)))}
    assert list(keys) == ["window", "mean", "control limits", "single value", "moving range"]
    assert keys["control limits"].is_dashed
    assert not keys["window"].is_dashed
    assert keys["window"].width > keys["mean"].width
    (tmp_path / "outside").mkdir()
    found = quantity(tmp_path / "outside", [*STEADY, 65.0])
    marks = {one.words: one.mark for one in control_chart_keys(control_chart_figure(found))}
    assert marks["outside the window"] == "×"
    assert marks["outside the control limits"] == "◇"
    assert marks["single value"] == "●"
    assert control_chart_figure(found).layout.showlegend is False
