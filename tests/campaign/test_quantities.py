"""The rated quantities of a load case are those that the score rates."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate import load_campaign, rate
from correlate.campaign import score_campaign
from correlate.campaign.curves import Curve, Missing, TestCurves, read_model
from correlate.campaign.quantities import quantities
from correlate.conditioning import pair_conditioned

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize("repeats", ["each", "mean curve"])
def test_their_pairs_have_the_ratings_of_the_score(project: Path, repeats: str) -> None:
    """Every record of the score is the rating of one pair of curves."""
    file = project / "campaign.toml"
    file.write_text(f'{file.read_text()}\n[scoring]\nrepeats = "{repeats}"\n', encoding="utf-8")
    campaign = load_campaign(project)
    case = campaign.load_cases[0]
    tests = TestCurves(case, campaign.test_paths(case))
    recording = read_model(campaign, campaign.releases[0], case)
    found = {}
    for quantity in quantities(case, tests, recording):
        assert isinstance(quantity.model, Curve)
        for name, test in quantity.references(repeats).items():
            pair = pair_conditioned(test, quantity.model.signal, quantity.recipe).pair
            found[quantity.channel, name] = rate(pair).overall
    records = score_campaign(campaign, workers=1).records
    assert found == {(one.channel, one.repeat): one.overall for one in records}
    assert len(found) == (4 if repeats == "each" else 2)


def test_a_model_without_output_leaves_the_repeats(project: Path) -> None:
    """The curve of the model says why it is missing."""
    (project / "model" / "push.csv").unlink()
    campaign = load_campaign(project)
    case = campaign.load_cases[0]
    tests = TestCurves(case, campaign.test_paths(case))
    recording = read_model(campaign, campaign.releases[0], case)
    for quantity in quantities(case, tests, recording):
        assert isinstance(quantity.model, Missing)
        assert "push.csv" in quantity.model.reason
        assert list(quantity.tests) == ["R1", "R2"]
