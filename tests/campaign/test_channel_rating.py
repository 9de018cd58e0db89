"""A channel against all repeats of its test: means, curves, changes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from correlate import (
    CaseEvaluation,
    ChannelError,
    ChannelRating,
    CurveChange,
    Recipe,
    channel_pairs,
    channel_rating,
    load_campaign,
    score_pair,
)
from tests.dashboard.project import write_project
from tests.plots.scores import late_model

if TYPE_CHECKING:
    from pathlib import Path

MODELS = st.tuples(st.floats(-0.004, 0.004), st.floats(20.0, 400.0))


def rated(*models: tuple[float, float]) -> ChannelRating:
    """Return pairs of one test and models that are late and high by some amounts, as if of repeats."""
    scores = [late_model(late_s=late_s, height=height) for late_s, height in models]
    return ChannelRating(scores={f"T{number}": one for number, one in enumerate(scores)})


@settings(max_examples=25, deadline=None)
@given(models=st.lists(MODELS, min_size=1, max_size=4))
def test_the_mean_account_adds_up_to_the_mean_loss(models: list[tuple[float, float]]) -> None:
    """Over components, over samples and over bins, whatever the repeats are."""
    found = rated(*models)
    account, lost = found.account(), 1.0 - found.rating.overall
    assert account.total == pytest.approx(lost, abs=1e-12)
    assert sum(account.by_component.values()) == pytest.approx(lost, abs=1e-9)
    assert sum(one.sum() for one in account.by_sample.values()) == pytest.approx(lost, abs=1e-9)
    assert account.bins().total.sum() == pytest.approx(lost, abs=1e-9)


@settings(max_examples=25, deadline=None)
@given(models=st.lists(MODELS, min_size=2, max_size=4))
def test_the_mean_does_not_depend_on_the_order_of_the_repeats(models: list[tuple[float, float]]) -> None:
    """To the last bit, because repeats are stored in the order in which they were rated."""
    first, second = rated(*models).rating, rated(*reversed(models)).rating
    for name in ("overall", "corridor", "phase", "magnitude", "slope", "shift_s"):
        assert getattr(first, name) == getattr(second, name)


def test_one_repeat_is_its_own_mean() -> None:
    """Number, word, curves and corridors are those of the pair."""
    score = late_model()
    found = ChannelRating(scores={"T1": score})
    assert found.rating.overall == score.rating.overall
    assert found.rating.grade == score.rating.grade
    np.testing.assert_array_equal(found.test, score.rating.pair.reference)
    assert found.half_width("outer") == score.rating.ingredients.corridor.outer_half_width


def test_repeats_in_another_unit_are_drawn_and_changed_in_the_first() -> None:
    """A laboratory that writes N instead of kN changes no curve and no rating, changed or not."""
    one = late_model(unit="kN")
    recipe = Recipe(cfc=None, start_s=0.0, end_s=0.04, unit="N")
    other = score_pair(one.reference, one.candidate, recipe=recipe)
    assert other.reference.unit == "N"
    found = ChannelRating(scores={"T1": one, "T2": other})
    np.testing.assert_allclose(found.tests["T2"], found.tests["T1"])
    assert found.half_width("inner") == pytest.approx(one.rating.ingredients.corridor.inner_half_width)
    changed = found.changed(CurveChange(offset=20.0, scale=1.1))
    assert changed.ratings["T2"].overall == pytest.approx(changed.ratings["T1"].overall, abs=1e-9)
    assert changed.ratings["T1"].overall != one.rating.overall


def test_a_repeat_that_cannot_be_rated_is_named(tmp_path: Path) -> None:
    """The mean is over the others; without any, the reason is raised."""
    campaign = load_campaign(write_project(tmp_path))
    case, release = campaign.load_case("drop"), campaign.release("A1")
    file = tmp_path / "laboratory/drop/D02.csv"
    head, rest = file.read_text(encoding="utf-8").split("\n", maxsplit=1)
    file.write_text(head.replace("KMACXP", "KMACYP") + "\n" + rest, encoding="utf-8")
    found = channel_rating(channel_pairs(CaseEvaluation(campaign, case), release, "D0HEAD0000KMACXP"))
    assert list(found.scores) == ["D01"]
    assert "D0HEAD0000KMACXP" in found.missing["D02"]
    pairs = channel_pairs(CaseEvaluation(campaign, case), release, "D0HEAD0000KMACXP", "D02")
    with pytest.raises(ChannelError, match="D0HEAD0000KMACXP"):
        channel_rating(pairs)
