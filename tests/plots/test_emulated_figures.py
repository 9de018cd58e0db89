"""Figures of emulated curves, of what moves them, and of predictions against results."""

from __future__ import annotations

import base64
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.plots import (
    EMULATED_TRACES,
    curve_sensitivity_figure,
    drawn_parameters,
    emulated_figure,
    emulated_lines,
    kept_predictions_figure,
)
from correlate.tuning.calibration import KeptPrediction
from correlate.tuning.curve_sensitivity import CurveSensitivity, curve_sensitivity
from correlate.tuning.emulated import EmulatedCurve
from correlate.tuning.predicted import Predicted
from correlate.tuning.traces import TraceChannel

if TYPE_CHECKING:
    from correlate.plots import Theme

TIME = np.arange(50, dtype=np.float64) * 1e-3
CURVE = np.sin(60 * TIME)
CHANNEL = TraceChannel(
    load_case="drop", channel="rib <b>", unit="m/s^2", time=TIME, tests={"t1": CURVE, "t2": 1.5 * CURVE}
)
SAID = EmulatedCurve(time=TIME, mean=CURVE, low=CURVE - 2, high=CURVE + 3)


@pytest.fixture(params=["light", "dark"])
def theme(request: pytest.FixtureRequest) -> Theme:
    """Return each theme."""
    found: Theme = request.param
    return found


def test_an_emulated_curve_is_drawn_in_front_of_the_tests(theme: Theme) -> None:
    """Band and curve first in the list and in front in the picture; the axes hold everything, with units."""
    figure = emulated_figure(CHANNEL, SAID, 0.5 * CURVE, None, theme=theme)
    low, high, mean, *others = figure.data
    assert high.fill == "tonexty"
    assert [trace.name for trace in others] == ["tests", "tests", "run at the start point"]
    assert [trace.showlegend for trace in others[:2]] == [True, False]
    assert low.zorder < others[0].zorder < mean.zorder
    assert figure.layout.yaxis.title.text == "Rib &lt;b&gt; [m/s²]"
    bottom, top = figure.layout.yaxis.range
    assert bottom < SAID.low.min()
    assert top > SAID.high.max()
    assert tuple(figure.layout.xaxis.range) == pytest.approx((0.0, 49.0))


def test_what_follows_a_slider_is_what_the_figure_draws() -> None:
    """The packed samples are those of the first traces."""
    figure = emulated_figure(CHANNEL, SAID, None, None)
    lines = emulated_lines(SAID)
    assert len(lines) == EMULATED_TRACES
    for trace, line in zip(figure.data, lines, strict=False):
        for axis in ("x", "y"):
            assert line[axis]["dtype"] == "f4"
            sent = np.frombuffer(base64.b64decode(line[axis]["bdata"]), dtype="<f4")
            assert np.array_equal(sent, trace[axis])


def test_long_curves_are_sent_by_their_extremes() -> None:
    """No peak is lost, and far fewer samples are sent than there are."""
    time = np.linspace(0, 1, 100_000)
    peak = np.exp(-(((time - 0.5) / 1e-5) ** 2))
    line = emulated_lines(EmulatedCurve(time=time, mean=peak, low=peak, high=peak))[2]
    sent = np.frombuffer(base64.b64decode(line["y"]["bdata"]), dtype="<f4")
    assert sent.max() == pytest.approx(peak.max())
    assert sent.size < 10_000


def found_sensitivity() -> CurveSensitivity:
    """Return the sensitivity of a curve that two of three parameters move, the second more."""
    return curve_sensitivity(lambda cube: (cube[:, :1] + 3 * cube[:, 1:2]) * CURVE, TIME, 3)


def test_parameters_that_move_a_curve_have_a_row_each(theme: Theme) -> None:
    """The strongest on top, one that moves nothing left out; shares and changes with their units."""
    found = found_sensitivity()
    assert drawn_parameters(found) == [1, 0]
    shares = curve_sensitivity_figure(found, ("a", "b", "c"), "kN", "share", theme=theme)
    assert list(shares.data[1].y) == ["a", "b"]
    assert shares.data[1].colorbar.title.text == "share [1]"
    assert shares.layout.yaxis2.title.text == "spread [kN]"
    changes = curve_sensitivity_figure(found, ("a", "b", "c"), "kN", "change", theme=theme).data[1]
    assert changes.colorbar.title.text == "change [kN]"
    assert changes.zmax == pytest.approx(3.0, rel=0.01)
    assert changes.zmin == -changes.zmax


def test_shades_run_from_one_lightness_to_another(theme: Theme) -> None:
    """Shares are told by lightness alone, for every kind of eye and in grey print."""
    scale = curve_sensitivity_figure(found_sensitivity(), ("a", "b", "c"), "kN", "share", theme=theme).data[1]
    lightness = [
        sum(weight * int(colour[at : at + 2], 16) for at, weight in ((1, 0.299), (3, 0.587), (5, 0.114)))
        for _, colour in scale.colorscale
    ]
    steps = np.diff(lightness)
    assert (steps < -40).all() or (steps > 40).all()


def test_predictions_have_their_intervals_and_marks() -> None:
    """Rated less predicted by round; what came outside has another mark; nothing without one of a kind."""
    kept = [
        KeptPrediction(
            round=number,
            identity=f"p{number}",
            outcome="train",
            predicted=Predicted(mean=0.8, low=0.7, high=0.85),
            rated=rated,
        )
        for number, rated in ((1, 0.82), (2, 0.9))
    ]
    intervals, inside, outside = kept_predictions_figure(kept, theme="dark").data
    assert list(intervals.error_y.array) == pytest.approx([0.05, 0.05])
    assert list(intervals.error_y.arrayminus) == pytest.approx([0.1, 0.1])
    assert list(inside.y) == pytest.approx([0.02])
    assert list(outside.y) == pytest.approx([0.1])
    assert outside.marker.symbol == "x"
    assert len(kept_predictions_figure(kept[:1]).data) == 2
