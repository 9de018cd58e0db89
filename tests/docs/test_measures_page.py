"""The page of the measures: computed tables and picture are up to date, and the ranking is stable."""

from __future__ import annotations

import xml.etree.ElementTree as ET

import pytest

from correlate import METRICS
from docs.pictures import measures

SAID = measures.values()


def places(name: str) -> list[list[str]]:
    """Return the ways from the worst to the least bad by one measure."""
    return measures.ranking(SAID[name], higher_is_better=METRICS[name].higher_is_better)


def test_the_page_holds_the_tables_that_are_computed() -> None:
    """Numbers, ranking and properties on the page are those of today's code."""
    text = measures.PAGE.read_text(encoding="utf-8")
    assert measures.page(text) == text, "run python docs/pictures/measures.py"


def test_the_picture_is_the_one_that_is_computed() -> None:
    """The picture is well-formed, shows ten pairs of curves and is that of today's code."""
    text = measures.PICTURE.read_text(encoding="utf-8")
    assert measures.picture() == text, "run python docs/pictures/measures.py"
    root = ET.fromstring(text)  # noqa: S314 - our own picture
    assert len(root.findall("{http://www.w3.org/2000/svg}polyline")) == 20


def test_a_page_without_its_marks_is_refused() -> None:
    """A lost mark is noticed instead of swallowing the rest of the page."""
    with pytest.raises(ValueError, match="no place for the table of measures"):
        measures.page("# Measures\n")


@pytest.mark.parametrize("name", list(METRICS))
def test_a_turned_sign_is_the_worst_to_every_measure(name: str) -> None:
    """Nothing is as wrong as the wrong sign."""
    assert places(name)[0] == ["wrong sign"]


@pytest.mark.parametrize(
    ("name", "worst", "least"),
    [
        ("iso18571", "noisy", {"high"}),
        ("sprague-geers", "second peak missing", {"wrong filter"}),
        ("russell", "second peak missing", {"wrong filter"}),
        ("knowles-gear", "noisy", {"early", "late"}),
        ("theil", "second peak missing", {"wrong filter"}),
        ("weighted-integrated-factor", "second peak missing", {"wrong filter"}),
        ("normalised-rms", "second peak missing", {"wrong filter"}),
        ("pearson", "second peak missing", {"high", "low", "offset"}),
        ("cross-correlation", "second peak missing", {"late", "early", "high", "low"}),
        ("residual", "stretched", {"offset"}),
        ("confidence-interval", "stretched", {"wrong filter"}),
        ("area", "stretched", {"wrong filter"}),
    ],
)
def test_the_ranking_is_stable(name: str, worst: str, least: set[str]) -> None:
    """Which way is worst after the wrong sign, and which ones a measure minds least, as the page says."""
    assert worst in places(name)[1]
    assert set(places(name)[-1]) == least


@pytest.mark.parametrize("name", list(METRICS))
def test_late_and_early_are_equally_bad(name: str) -> None:
    """The curve rests at both ends, so 4 ms late and 4 ms early share a place."""
    assert any({"late", "early"} <= set(place) for place in places(name))
