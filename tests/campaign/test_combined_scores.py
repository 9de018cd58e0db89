"""What a combined score carries beside its mean, and the usual filter classes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate.campaign import aggregate, load_campaign, score_campaign
from correlate.campaign.aggregation import Score, combine
from correlate.evaluation.book import usual_settings

if TYPE_CHECKING:
    from pathlib import Path


def channel(overall: float | None, *, worst: float = 0.0, best: float = 1.0, measure: str = "theil") -> Score:
    """Return the score of a channel."""
    return Score(
        kind="channel",
        name="a",
        words="a",
        overall=overall,
        rated=int(overall is not None),
        expected=1,
        lowest=overall,
        highest=overall,
        worst=worst,
        best=best,
        measure=measure,
    )


def test_the_ends_of_a_scale_are_weighted_as_the_parts() -> None:
    """Of 0.2 and 0.6 with the weights 1 and 3 the mean is 0.5, of 2 and 4 it is 3.5."""
    parts = [(channel(0.4, worst=0.2, best=2.0), 1.0), (channel(0.8, worst=0.6, best=4.0), 3.0)]
    found = combine("region", "head", "the head", parts)
    assert (found.worst, found.best) == pytest.approx((0.5, 3.5))
    assert found.overall == pytest.approx(0.7)
    assert (found.lowest, found.highest) == pytest.approx((0.7, 0.7))
    assert [part.weight for part in found.parts] == pytest.approx([0.25, 0.75])
    assert (found.measure, found.words, found.rated, found.expected) == ("theil", "the head", 2, 2)


def test_a_part_without_a_number_keeps_its_weight_at_the_ends_of_the_scale() -> None:
    """The mean is that of the other part, unless what is missing counts as zero."""
    parts = [(channel(None, worst=0.2), 1.0), (channel(0.8, worst=0.6), 3.0)]
    without, zero = (
        combine("region", "head", "head", parts),
        combine("region", "head", "head", parts, zero=True),
    )
    assert (without.overall, zero.overall) == pytest.approx((0.8, 0.6))
    assert (without.worst, zero.worst) == pytest.approx((0.5, 0.5))
    assert [part.weight for part in without.parts] == pytest.approx([0.0, 1.0])


def test_nothing_combined_has_no_number() -> None:
    """And the measure of the main rating."""
    found = combine("region", "head", "head", [])
    assert (found.overall, found.rated, found.expected, found.measure) == (None, 0, 0, "iso18571")


def test_a_measure_is_that_of_the_first_part() -> None:
    """All parts have the same."""
    parts = [(channel(0.5, measure="russell"), 1.0), (channel(0.5, measure="theil"), 1.0)]
    assert combine("region", "head", "head", parts).measure == "russell"


@pytest.mark.parametrize(
    ("title", "words"), [("", "push"), ('title = "Push of the thorax"', "Push of the thorax")]
)
def test_a_load_case_is_called_by_its_title(project: Path, title: str, words: str) -> None:
    """Or by its name where it has none."""
    file = project / "campaign.toml"
    file.write_text(
        file.read_text(encoding="utf-8").replace('name = "push"', f'name = "push"\n{title}'), encoding="utf-8"
    )
    campaign = load_campaign(project)
    records = score_campaign(campaign, workers=1).records
    (case,) = aggregate(campaign, records, "B1").training.parts
    assert (case.name, case.words) == ("push", words)


@pytest.mark.parametrize(
    ("place", "cfc"),
    [
        # SAE J211-1, table of frequency response classes, from memory.
        (("HEAD", "AC"), 1000),
        (("NECK", "FO"), 1000),
        (("NECK", "MO"), 600),
        (("CHST", "AC"), 180),
        (("CHST", "DS"), 180),
        (("THSP", "AC"), 180),
        (("PELV", "AC"), 1000),
        (("FEMR", "FO"), 600),
        # Common practice.
        (("LUSP", "FO"), 1000),
        (("PEND", "AC"), 180),
        (("PEND", "FO"), 180),
        (("SEAT", "AC"), 60),
    ],
)
def test_the_usual_filter_class_of_a_place(place: tuple[str, str], cfc: int) -> None:
    """As published."""
    location, quantity = place
    assert usual_settings(f"D0{location}0000KM{quantity}XP")["cfc"] == cfc
