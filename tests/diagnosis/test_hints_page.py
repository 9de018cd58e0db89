"""The page on features and hints: its picture and its lists are those of today's code."""

from __future__ import annotations

from typing import get_args

import pytest

from correlate.diagnosis.differences import feature_differences
from correlate.diagnosis.hints.causes import GROUPS
from correlate.diagnosis.hints.evidence import Role
from correlate.pair import AlignedPair
from docs.pictures import diagnosis_features as drawn
from tests.diagnosis.judging import SEED
from tests.diagnosis.struck_mass import TIME, curves

PAGE = drawn.PICTURE.parents[1] / "features-and-hints.md"


def test_the_picture_is_the_one_that_is_computed() -> None:
    """Curves and hints of the picture are those of today's code."""
    text = drawn.PICTURE.read_text(encoding="utf-8")
    assert drawn.picture() == text, "run python -m docs.pictures.diagnosis_features"


@pytest.mark.parametrize("panel", drawn.PANELS, ids=[panel.changed for panel in drawn.PANELS])
def test_each_panel_is_hinted_at_rightly(panel: drawn.Panel) -> None:
    """What was changed is what the first hint says."""
    assert drawn.first_hint(panel) == panel.wrong


def test_every_feature_has_a_correction_on_the_page() -> None:
    """No feature is missing in the table of corrections; further peaks have a row of their own."""
    panel = drawn.PANELS[0]
    test, model = (curves(one)["force"] for one in (panel.test, panel.model))
    names = [one.name for one in feature_differences(AlignedPair(time=TIME, reference=test, candidate=model))]
    table = PAGE.read_text(encoding="utf-8").partition("| feature | correction")[2]
    words = {"tail damping ratio": "tail damping"}
    assert [name for name in names if words.get(name, name) not in table] == []


@pytest.mark.parametrize("name", [*GROUPS, *get_args(Role)])
def test_every_behaviour_and_role_stands_on_the_page(name: str) -> None:
    """What can be hinted at, and what a channel can be, is explained."""
    assert name in PAGE.read_text(encoding="utf-8").partition("## Features")[2].partition("## ")[2]


def test_the_reported_figures_are_those_of_the_seed() -> None:
    """The page names the seed of the judging, so that anyone can repeat it."""
    assert str(SEED) in PAGE.read_text(encoding="utf-8")
