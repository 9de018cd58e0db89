"""The page on features and hints: its picture and its lists are those of today's code."""

from __future__ import annotations

import re

import pytest

from correlate.diagnosis.differences import feature_differences
from correlate.diagnosis.hints.rules import rules
from correlate.pair import AlignedPair
from docs.pictures import diagnosis_features as drawn
from tests.diagnosis.material_changes import SEED

PAGE = drawn.PICTURE.parents[1] / "features-and-hints.md"


def test_the_picture_is_the_one_that_is_computed() -> None:
    """Curves and hints of the picture are those of today's code."""
    text = drawn.PICTURE.read_text(encoding="utf-8")
    assert drawn.picture() == text, "run python -m docs.pictures.diagnosis_features"


@pytest.mark.parametrize(
    ("panel", "hint"),
    list(
        zip(
            drawn.PANELS,
            (
                "stiffness: too little",
                "damping: too little",
                "hysteresis: too little",
                "stiffness: too little",
                "contact or densification: too little",
                "inertia: too much",
            ),
            strict=True,
        )
    ),
)
def test_each_panel_is_hinted_at_rightly(panel: str, hint: str) -> None:
    """What was changed is what the first hint says."""
    test, model = (drawn.load_of(struck) for struck in drawn.PANELS[panel])
    assert drawn.first_hint(test, model) == hint


def test_every_feature_has_a_correction_on_the_page() -> None:
    """No feature is missing in the table of corrections; further peaks have a row of their own."""
    test, model = (drawn.load_of(struck) for struck in drawn.PANELS["spring 40 % softer"])
    names = [
        one.name for one in feature_differences(AlignedPair(time=drawn.TIME, reference=test, candidate=model))
    ]
    table = PAGE.read_text(encoding="utf-8").partition("| feature | correction")[2]
    words = {"tail damping ratio": "tail damping"}
    assert [name for name in names if words.get(name, name) not in table] == []


def test_the_table_of_rules_has_a_row_for_each() -> None:
    """The page explains as many rules as the table of rules holds."""
    table = PAGE.read_text(encoding="utf-8").partition("| observed in the model |")[2].partition("\n\n")[0]
    assert len(re.findall(r"^\| (?!---)", table, re.MULTILINE)) == len(rules())


def test_the_reported_figure_is_that_of_the_seed() -> None:
    """The page names the seed of the script, so that anyone can repeat it."""
    assert f"seed {SEED} " in PAGE.read_text(encoding="utf-8")
