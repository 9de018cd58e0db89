"""The pairs of a campaign and their scores."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate import CampaignReader, align, campaign_pairs, load_campaign, read
from correlate.errors import ChannelError
from tests.oracles import iso18571_literal as literal

if TYPE_CHECKING:
    from pathlib import Path


def test_every_repeat_of_every_channel_is_paired(project: Path) -> None:
    """Two repeats and two channels make four pairs, in the order of the file."""
    pairs = list(campaign_pairs(load_campaign(project)))
    assert [(pair.channel.name, pair.repeat) for pair in pairs] == [
        ("force", "R1"),
        ("force", "R2"),
        ("deflection", "R1"),
        ("deflection", "R2"),
    ]


def test_a_pair_scores_as_when_rated_by_hand(project: Path) -> None:
    """The campaign adds nothing: reading and aligning by hand, and rating literally, give the same."""
    campaign = load_campaign(project)
    pair = next(campaign_pairs(campaign))
    score = CampaignReader().score(campaign, pair)
    test = read(project / "tests" / "R1.csv").channel("force")
    model = read(project / "model" / "push.csv").channel("probe force")
    push = campaign.load_case("push")
    by_hand = align(test, model, push.recipe(push.plan(pair.channel.name)))
    expected = literal.rating(by_hand.reference.tolist(), by_hand.candidate.tolist(), by_hand.step_s)
    assert score.rating.overall == pytest.approx(expected["overall"], abs=1e-9)
    assert score.reference.unit == score.candidate.unit == "kN"
    assert [step.name for step in score.candidate.history][:3] == ["read", "convert unit", "turn sign"]


def test_each_file_is_read_once(project: Path) -> None:
    """The reader keeps what it has read."""
    campaign = load_campaign(project)
    reader = CampaignReader()
    for pair in campaign_pairs(campaign):
        reader.score(campaign, pair)
    assert sorted(path.name for path in reader.recordings) == ["R1.csv", "R2.csv", "push.csv"]


def test_a_channel_that_the_model_lacks_is_named(project: Path) -> None:
    """A mapping to a column that is not there is refused with the columns there are."""
    file = project / "campaign.toml"
    file.write_text(file.read_text().replace('"probe force"', '"probe push"'), encoding="utf-8")
    campaign = load_campaign(project)
    with pytest.raises(ChannelError, match=r"push\.csv.*probe push.*probe force"):
        CampaignReader().score(campaign, next(campaign_pairs(campaign)))
