"""Whole figures as static drawings: the curves can be read back off them, and nothing else is in them."""

from __future__ import annotations

import re
from xml.etree import ElementTree as ET

import numpy as np
import plotly.graph_objects as go
import pytest

from correlate import CurveChange, TrendPoint, account_for_loss
from correlate.errors import SettingsError
from correlate.plots import pair_figure, pair_view_figure, trend_figure
from correlate.plots.loss import loss_strip
from correlate.plots.svg_figure import figure_svg
from tests.plots.scores import late_model
from tests.plots.test_pair_view import of_one, view
from tests.plots.test_svg_marks import drawn_points

TREND = [
    TrendPoint(release=name, training=value, held_out=None) for name, value in (("A1", 0.7), ("A2", 0.82))
]


def elements(svg: str, tag: str) -> list[ET.Element]:
    """Return the elements of a kind, in order."""
    return list(ET.fromstring(svg).iter(tag))  # noqa: S314 - our own


def measured(svg: str, along: str, size: str) -> tuple[float, float]:
    """Read the scale of an axis off its tick labels: value = slope · px + start."""
    ticks = [
        (float(one.attrib[along]), float((one.text or "").replace("−", "-")))
        for one in elements(svg, "text")
        if re.fullmatch(r"[−\d.]+", one.text or "") and one.attrib.get("text-anchor") == size
    ]
    places, values = np.transpose(ticks)
    slope, start = np.polyfit(places, values, 1)
    return float(slope), float(start)


def test_the_model_can_be_read_off_the_drawing() -> None:
    """The dashed line, measured with the tick labels of both axes, is the model of the pair."""
    score = late_model()
    figure = pair_figure(score, theme="light")
    figure.update_layout(yaxis2={"showticklabels": False, "tickvals": []})
    svg = figure_svg(figure, words="a pair", name="one")
    (dashed,) = [one for one in elements(svg, "path") if one.attrib.get("stroke-dasharray") == "90 30"]
    (points,) = drawn_points(dashed.attrib["d"])
    across, up = np.transpose(points)
    by_ms, from_ms = measured(svg, "x", "middle")
    by_unit, from_unit = measured(svg, "y", "end")
    size = 0.35 * 13  # a label stands lower than its tick by about a third of its letters
    values = by_unit * (up + size) + from_unit
    pair = score.rating.pair
    expected = np.interp(by_ms * across + from_ms, 1e3 * pair.time, pair.candidate)
    assert np.abs(values - expected).max() < 0.01 * np.ptp(pair.candidate)


def test_the_same_figure_gives_the_same_text() -> None:
    """No random name and no time of day is in a drawing."""
    one, other = (figure_svg(pair_figure(late_model(), theme="light"), words="w", name="n") for _ in range(2))
    assert one == other


def test_a_drawing_needs_nothing() -> None:
    """No script, no picture, no address; the only reference is to its own clip."""
    svg = figure_svg(pair_figure(late_model(), theme="light"), words="w", name="n")
    assert {one.tag for one in ET.fromstring(svg).iter()} <= {  # noqa: S314 - our own
        "svg",
        "clipPath",
        "rect",
        "path",
        "g",
        "text",
        "circle",
    }
    assert re.findall(r"url\(([^)]*)\)", svg) == ["#n"]
    assert "http" not in svg


def test_words_and_names_from_files_are_escaped() -> None:
    """A channel called like markup is a text in the drawing."""
    evil = "<script>alert(1)</script>"
    svg = figure_svg(pair_figure(late_model(test_channel=evil), theme="light"), words=f'"{evil}', name="n")
    assert evil not in svg
    root = ET.fromstring(svg)  # noqa: S314 - our own
    assert root.attrib["aria-label"] == f'"{evil}'
    assert any(evil in (one.text or "") for one in root.iter("text"))


def test_the_legend_names_every_curve_in_its_order() -> None:
    """Test, model and both corridors, the corridors last."""
    svg = figure_svg(pair_figure(late_model(), theme="light"), words="w", name="n")
    texts = [one.text for one in elements(svg, "text")]
    assert texts[-4:] == ["test", "model", "±5 % corridor", "±50 % corridor"]


def test_the_trend_writes_out_its_last_number() -> None:
    """Release names, the number of the release in question, and only grades within the axis."""
    svg = figure_svg(trend_figure(TREND, theme="light", release="A2"), words="w", name="n")
    texts = [one.text for one in elements(svg, "text")]
    assert {"A1", "A2", "0.820", "good"} <= set(texts)
    assert "fair" not in texts


def test_the_loss_is_drawn_as_four_rows_of_bars() -> None:
    """One path of bars for each component of the rating, and its name in the legend."""
    svg = figure_svg(loss_strip(account_for_loss(late_model().rating), theme="light"), words="w", name="n")
    texts = {one.text for one in elements(svg, "text")}
    assert {"corridor", "phase", "magnitude", "slope"} <= texts
    bars = [one for one in elements(svg, "path") if "stroke" not in one.attrib and "fill" in one.attrib]
    assert len(bars) == 4


def test_a_second_panel_has_its_own_legend() -> None:
    """The components of the loss stand above their bars, below the curves, after whose loss it is."""
    svg = figure_svg(pair_view_figure(view(), theme="light"), words="w", name="n")
    heights = {one.text: float(one.attrib["y"]) for one in elements(svg, "text")}
    assert heights["A1 loses by"] == heights["corridor"] == heights["slope"]
    assert heights["corridor"] > heights["test"] + 300


def test_a_changed_curve_lies_above_all_others() -> None:
    """It is the first trace, so that it can be sent alone, and is drawn last."""
    changed = of_one(late_model()).changed(CurveChange(shift_s=0.003))
    svg = figure_svg(pair_view_figure(view(changed=changed), theme="light"), words="w", name="n")
    widths = [one.attrib.get("stroke-width") for one in elements(svg, "path") if "transform" in one.attrib]
    assert widths[-1] == "32"


def test_a_hatched_band_is_a_tint() -> None:
    """All repeats are an even tint that lets the corridor through, in the drawing and in its legend."""
    figure = pair_figure(late_model(), theme="light")
    figure.data[1].fillpattern = {"fgcolor": "#123456", "shape": "/"}
    svg = figure_svg(figure, words="w", name="n")
    assert svg.count('fill="#123456" fill-opacity="0.2"') == 2


@pytest.mark.parametrize(
    ("figure", "words"),
    [
        (go.Figure(go.Heatmap(z=[[1]])), "a trace 'heatmap' has no static drawing"),
        (
            go.Figure(
                go.Scatter(x=[0, 1], y=[0, 1]),
                layout={"shapes": [{"type": "circle", "x0": 0, "x1": 1, "y0": 0, "y1": 1}]},
            ),
            "a shape 'circle' has no static drawing",
        ),
    ],
)
def test_what_has_no_drawing_is_refused(figure: go.Figure, words: str) -> None:
    """A figure that would lose something is not drawn at all."""
    figure.update_layout(
        height=200, margin={"l": 40, "r": 10, "t": 20, "b": 40}, font={"size": 13, "family": "a"}
    )
    with pytest.raises(SettingsError, match=words):
        figure_svg(figure, words="w", name="n")


def test_a_title_longer_than_its_axis_is_written_smaller() -> None:
    """It would reach into the next panel otherwise; down to a size that can be read."""

    def size(height: int) -> float:
        svg = figure_svg(pair_figure(late_model(), theme="light"), words="w", name="n", height=height)
        (title,) = [
            one for one in elements(svg, "text") if (one.text or "").startswith("Head acceleration X")
        ]
        return float(title.attrib["font-size"])

    assert size(520) == 13
    assert 10 < size(250) < 13
    assert size(150) == 10
