"""The hardware of a campaign against itself."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.campaign import campaign_ceilings, ceiling_scores, load_campaign
from correlate.campaign.ceilings import repeats_of
from correlate.evaluation import CaseEvaluation
from correlate.formats import read
from correlate.reference.repeatability import ceiling_of
from tests.campaign.conftest import half_sine, write_columns

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def three(project: Path) -> Path:
    """Add a third repeat, which is the least number that has a ceiling."""
    columns = {"force [kN]": half_sine(5.2, 3.8), "deflection [mm]": half_sine(7.4, 57.0)}
    write_columns(project / "tests/R3.csv", columns)
    return project


def test_a_ceiling_is_that_of_the_channel_alone(three: Path) -> None:
    """Median, least and largest are those that the function for one channel gives from the same files."""
    campaign = load_campaign(three)
    found = {one.channel: one for one in campaign_ceilings(campaign)}
    tests = [read(path) for path in campaign.test_paths(campaign.load_cases[0])]
    for plan in campaign.load_cases[0].channel:
        alone = ceiling_of(
            [test.channel(plan.test) for test in tests],
            campaign.load_cases[0].recipe(plan),
            campaign.settings,
        )
        ceiling = found[plan.test]
        assert (ceiling.median, ceiling.lowest, ceiling.highest) == pytest.approx(
            (alone.median, alone.lowest, alone.highest), abs=1e-12
        )
        assert ceiling.repeats == 3
    # Peaks of the three half-sines; CFC 180 takes next to nothing off 30 ms.
    # The reference is the mean of two, whose peaks lie a little apart in time.
    assert found["deflection"].reference_peak == pytest.approx(np.mean([60, 60, 57]), rel=1e-3)


def test_two_repeats_have_no_ceiling(project: Path) -> None:
    """With two repeats there is no number, and nothing to combine."""
    campaign = load_campaign(project)
    assert list(campaign_ceilings(campaign)) == []
    assert ceiling_scores(campaign, []) is None


def test_what_is_known_is_not_rated_again(three: Path) -> None:
    """A ceiling that is known under its key comes back as it is; another repeat makes another key."""
    campaign = load_campaign(three)
    first = {one.key: one for one in campaign_ceilings(campaign)}
    again = list(campaign_ceilings(campaign, known=first))
    assert all(first[one.key] is not one and first[one.key] == one for one in again)
    write_columns(
        three / "tests/R3.csv", {"force [kN]": half_sine(5.9, 3.8), "deflection [mm]": half_sine(7.4, 57.0)}
    )
    changed = {one.channel: one for one in campaign_ceilings(load_campaign(three), known=first)}
    assert changed["force"].key not in first


def test_ceilings_are_combined_as_ratings_are(three: Path) -> None:
    """The number of the region is the mean of its two channels, which weigh alike."""
    campaign = load_campaign(three)
    found = list(campaign_ceilings(campaign))
    scores = ceiling_scores(campaign, found)
    assert scores is not None
    assert scores.training.overall == pytest.approx(np.mean([one.median for one in found]))
    assert scores.regions[0].name == "thorax"


def test_another_main_measure_has_no_ceiling(three: Path) -> None:
    """A ceiling of the rating is not set beside the numbers of another measure."""
    file = three / "campaign.toml"
    found = list(campaign_ceilings(load_campaign(three)))
    text = '[scoring]\nmain = "weighted-integrated-factor"\n' + file.read_text(encoding="utf-8")
    file.write_text(text, encoding="utf-8")
    assert ceiling_scores(load_campaign(three), found) is None


COMPRESSION = 'model = "compression"'


@pytest.mark.parametrize("shift_ms", [0.0, -0.6, 3.0])
def test_a_share_inside_is_of_the_curves_that_are_rated(three: Path, shift_ms: float) -> None:
    """Unit and time shift of a channel count as in the rating: counted by hand from its pairs."""
    file = three / "campaign.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace(COMPRESSION, f"{COMPRESSION}\nmodel_shift_ms = {shift_ms}"), "utf-8")
    campaign = load_campaign(three)
    found = next(one for one in repeats_of(campaign, "push", ["B1"]) if one.repeats.channel == "deflection")
    case, release = CaseEvaluation(campaign, campaign.load_case("push")), campaign.release("B1")
    pairs = [case.pair(release, "deflection", repeat).score().rating.pair for repeat in ("R1", "R2", "R3")]
    tests = np.stack([pair.reference for pair in pairs])
    mean, spread = tests.mean(axis=0), tests.std(axis=0, ddof=1)
    inside = np.abs(pairs[0].candidate - mean) <= spread + 1e-9
    assert found.inside is not None
    assert found.inside.share == pytest.approx(float(inside.mean()), abs=1.01 / inside.size)
    assert found.model is not None
    ratings = [
        case.pair(release, "deflection", repeat).score().rating.overall for repeat in ("R1", "R2", "R3")
    ]
    assert found.model.ratings == pytest.approx(ratings, abs=1e-9)
