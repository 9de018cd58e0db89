"""The evaluation of a load case: its pairs are those that the score rates, bit for bit."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate import CaseEvaluation, load_campaign
from correlate.campaign import score_campaign
from correlate.errors import FormatError, SettingsError
from correlate.evaluation import Curve, Missing

if TYPE_CHECKING:
    from pathlib import Path


@pytest.mark.parametrize("repeats", ["each", "mean curve"])
def test_their_pairs_have_the_ratings_of_the_score(project: Path, repeats: str) -> None:
    """Every record of the score is the rating of one pair, and has its key."""
    file = project / "campaign.toml"
    file.write_text(f'{file.read_text()}\n[scoring]\nrepeats = "{repeats}"\n', encoding="utf-8")
    campaign = load_campaign(project)
    case = CaseEvaluation(campaign, campaign.load_cases[0])
    pairs = list(case.pairs(campaign.releases[0]))
    found = {(one.names.channel, one.names.repeat): (one.key, one.score().rating.overall) for one in pairs}
    records = score_campaign(campaign, workers=1).records
    assert found == {(one.channel, one.repeat): (one.key, one.overall) for one in records}
    assert len(found) == (4 if repeats == "each" else 2)


def test_a_model_without_output_leaves_the_repeats(project: Path) -> None:
    """The curve of the model says why it is missing, and the pair raises just that."""
    (project / "model" / "push.csv").unlink()
    campaign = load_campaign(project)
    case = CaseEvaluation(campaign, campaign.load_cases[0])
    for pair in case.pairs(campaign.releases[0]):
        assert isinstance(pair.reference, Curve)
        assert isinstance(pair.candidate, Missing)
        assert "push.csv" in pair.candidate.reason
        with pytest.raises(FormatError, match=r"push\.csv"):
            pair.score()
    assert list(case.tests("force")) == ["R1", "R2"]


def test_one_pair_reads_one_test(project: Path) -> None:
    """A single pair is evaluated although another repeat cannot be read."""
    (project / "tests" / "R2.csv").write_text("nothing\n", encoding="utf-8")
    campaign = load_campaign(project)
    case = CaseEvaluation(campaign, campaign.load_cases[0])
    assert case.pair(campaign.releases[0], "force", "R1").score().rating.overall > 0


def test_unknown_names_are_refused_with_what_there_is(project: Path) -> None:
    """A channel or repeat that the load case does not have is named, with those it has."""
    campaign = load_campaign(project)
    case = CaseEvaluation(campaign, campaign.load_cases[0])
    with pytest.raises(SettingsError, match=r"no channel 'thrust'.*force, deflection"):
        case.pair(campaign.releases[0], "thrust")
    with pytest.raises(SettingsError, match=r"no repeat 'R9'.*R1, R2"):
        case.pair(campaign.releases[0], "force", "R9")


def test_a_repeat_in_another_unit_is_rated_like_the_others(project: Path) -> None:
    """The model is brought to the unit of the repeat that it is compared with."""
    campaign = load_campaign(project)
    case = campaign.load_cases[0]
    before = CaseEvaluation(campaign, case).pair(campaign.releases[0], "force", "R2").score().rating.overall
    file = project / "tests" / "R2.csv"
    header, *rows = file.read_text(encoding="utf-8").splitlines()
    column = next(place for place, name in enumerate(header.split(",")) if name.startswith("force"))
    cells = [row.split(",") for row in rows]
    for row in cells:
        row[column] = repr(float(row[column]) * 1e3)
    names = header.split(",")
    names[column] = names[column].replace("kN", "N")
    file.write_text("\n".join([",".join(names), *(",".join(row) for row in cells), ""]), encoding="utf-8")
    pairs = {
        one.names.repeat: one
        for one in CaseEvaluation(campaign, case).pairs(campaign.releases[0])
        if one.names.channel == "force"
    }
    assert pairs["R2"].score().reference.unit == "N"
    assert pairs["R2"].score().rating.overall == pytest.approx(before, abs=1e-12)
