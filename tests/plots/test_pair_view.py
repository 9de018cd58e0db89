"""The picture of a pair to work with."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np
import pytest

from correlate import ChannelRating, CurveChange, Recipe, repeat_set, score_pair
from correlate.plots import CHANGED_TRACE, DARK, LIGHT, PairView, Theme, changed_trace, pair_view_figure
from tests.plots.scores import late_model

if TYPE_CHECKING:
    import plotly.graph_objects as go

    from correlate import PairScore


def of_one(score: PairScore) -> ChannelRating:
    """Return a channel that is rated against one repeat."""
    return ChannelRating(scores={"T1": score})


def view(score: PairScore | None = None, **more: Any) -> PairView:
    """Return a view of the late model, against one repeat unless more are given."""
    rated = more.pop("rated", None) or of_one(score or late_model())
    given: dict[str, Any] = {"release": "A1", "rated": rated, "account": rated.account(), "others": {}} | more
    return PairView(**given)


def named(figure: go.Figure) -> dict[str, Any]:
    """Return the traces by name."""
    return {trace.name: trace for trace in figure.data}


def test_curves_corridors_and_loss_are_drawn() -> None:
    """Test, model, two corridors around the test, and one row of bars a component."""
    score = late_model()
    drawn = named(pair_view_figure(view(score), theme="light"))
    pair = score.rating.pair
    np.testing.assert_allclose(drawn["test"].y, pair.reference, rtol=1e-6, atol=1e-5)
    np.testing.assert_allclose(drawn["model A1"].y, pair.candidate, rtol=1e-6, atol=1e-5)
    np.testing.assert_allclose(drawn["±50 % corridor"].y, pair.reference + 100, rtol=1e-3)
    for name in ("corridor", "phase", "magnitude", "slope"):
        lost = float(np.sum(drawn[name].y))
        assert lost == pytest.approx(0.2 * (1 + (name == "corridor")) * (1 - getattr(score.rating, name)))
        assert drawn[name].yaxis == "y2"


def test_curves_and_loss_share_one_time_axis() -> None:
    """One x axis, so that cursor and zoom are shared."""
    figure = pair_view_figure(view(), theme="light")
    assert {trace.xaxis for trace in figure.data} == {None}
    assert figure.layout.grid.subplots == (("xy",), ("xy2",))
    assert figure.layout.hoversubplots == "axis"
    assert tuple(figure.layout.xaxis.range) == pytest.approx((0, 40))


def test_further_releases_differ_in_colour_and_dash() -> None:
    """Up to three more models are drawn, none told apart by colour alone."""
    others = {f"A{number}": of_one(late_model(height=150.0 + number)) for number in (2, 3, 4)}
    drawn = named(pair_view_figure(view(others=others), theme="dark"))
    models = [drawn[f"model A{number}"] for number in (1, 2, 3, 4)]
    assert len({one.line.color for one in models}) == 4
    assert len({one.line.dash for one in models} | {drawn["test"].line.dash}) == 5


def test_the_spread_is_that_of_the_repeats() -> None:
    """The band runs from the least to the largest repeat at each instant, hatched."""
    score = late_model()
    other = late_model(late_s=0.5e-3, height=210.0)
    spread = repeat_set([score.reference, other.candidate], largest_shift_s=0.0)
    drawn = named(pair_view_figure(view(score, spread=spread), theme="light"))["all 2 repeats"]
    upper = np.maximum(score.reference.samples, other.candidate.samples)
    np.testing.assert_allclose(drawn.y, upper, rtol=1e-6, atol=1e-5)
    assert drawn.fillpattern.shape == "/"


def test_the_mean_is_drawn_with_every_repeat() -> None:
    """Thin lines for the repeats with one entry in the legend, their mean, the mean of their corridors."""
    scores = {"T1": late_model(), "T2": swapped(late_model(height=150.0))}
    rated = ChannelRating(scores=scores)
    figure = pair_view_figure(view(rated=rated, links=True), theme="light")
    drawn = named(figure)
    tests = [one.rating.pair.reference for one in scores.values()]
    np.testing.assert_allclose(drawn["test, mean of 2"].y, np.mean(tests, axis=0), rtol=1e-6, atol=1e-5)
    np.testing.assert_allclose(drawn["repeat T2"].y, tests[1], rtol=1e-6, atol=1e-5)
    assert [drawn["each of 2 repeats"].showlegend, drawn["repeat T2"].showlegend] == [True, False]
    assert drawn["repeat T2"].line.width < drawn["test, mean of 2"].line.width
    half = np.mean([one.rating.ingredients.corridor.outer_half_width for one in scores.values()])
    np.testing.assert_allclose(drawn["±50 % corridor"].y, np.mean(tests, axis=0) + half, rtol=1e-3)
    assert f"matched by warping, {rated.typical}" in drawn
    alone = named(pair_view_figure(view(rated=rated, repeats=False), theme="light"))
    assert not [name for name in alone if "repeat" in name]


def swapped(score: PairScore) -> PairScore:
    """Return the pair with the model as the test."""
    return score_pair(score.candidate, score.reference, recipe=Recipe(start_s=0.0, end_s=0.04))


def test_what_is_not_wanted_is_left_out() -> None:
    """No corridor, no spread, no links."""
    names = named(pair_view_figure(view(corridors=False), theme="light"))
    assert not [
        name for name in names if name.endswith(("corridor", "repeats", "warping")) and name != "corridor"
    ]
    assert "matched by warping" in named(pair_view_figure(view(links=True), theme="light"))


def test_a_changed_curve_stands_at_its_place() -> None:
    """The first trace is the changed curve, without points where nothing is changed."""
    score = late_model()
    changed = of_one(score).changed(CurveChange(scale=1.2))
    drawn = pair_view_figure(view(score, changed=changed), theme="light").data[CHANGED_TRACE]
    np.testing.assert_allclose(drawn.y, 1.2 * score.rating.pair.candidate, rtol=1e-6, atol=1e-4)
    assert drawn.name == "model, changed"
    assert drawn.zorder == 2
    assert len(changed_trace(None, None, theme="light").x) == 0


def test_a_window_is_looked_at_more_closely() -> None:
    """Axis and bins follow the window: narrower bins, none outside of it."""
    whole = named(pair_view_figure(view(), theme="light"))["corridor"]
    figure = pair_view_figure(view(window_s=(0.01, 0.014)), theme="light")
    close = named(figure)["corridor"]
    assert close.width < whole.width
    assert min(close.x) > 9.5
    assert max(close.x) < 14.5
    assert tuple(figure.layout.xaxis.range) == pytest.approx((10, 14))


def test_long_curves_are_reduced_and_keep_their_peaks() -> None:
    """Of 4 curves of 35,000 samples all peaks are drawn in less than 300 kB."""
    score = late_model(end_s=3.5)
    others = {f"A{number}": of_one(late_model(end_s=3.5, height=150.0 + number)) for number in (2, 3)}
    figure = pair_view_figure(view(score, others=others), theme="light")
    assert len(score.rating.pair) > 35_000
    assert float(np.max(named(figure)["test"].y)) == pytest.approx(score.rating.pair.reference.max())
    assert len(figure.to_json()) < 300_000


@pytest.mark.parametrize(("theme", "colours"), [("light", LIGHT), ("dark", DARK)])
def test_colours_are_those_of_the_theme(theme: Theme, colours: Any) -> None:
    """Curves and background come from the palette."""
    figure = pair_view_figure(view(), theme=theme)
    assert figure.layout.paper_bgcolor == colours.panel
    assert named(figure)["test"].line.color == colours.test


def test_names_are_no_markup() -> None:
    """Angle brackets of a release, a channel or a unit stay what they are."""
    score = late_model(test_channel="<b>head</b>")
    figure = pair_view_figure(view(score, release="<i>A1"), theme="light")
    assert "model &lt;i&gt;A1" in named(figure)
    assert "&lt;b&gt;head" in figure.layout.yaxis.title.text
    assert "&lt;i&gt;A1" in figure.layout.legend2.title.text
