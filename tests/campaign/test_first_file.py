"""A first campaign file from the data in a folder."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate import load_campaign
from correlate.campaign import score_campaign
from correlate.campaign.proposals import first_file
from correlate.errors import FormatError
from tests.campaign.conftest import half_sine, write_columns

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def data(tmp_path: Path) -> Path:
    """Write two repeats with channel codes and one result, and no campaign file."""
    for number in (1, 2):
        write_columns(
            tmp_path / "lab" / "push" / f"R{number}.csv",
            {"D0FEMRLE00KMFOZP [kN]": -half_sine(5, 4.0), "D0HEAD0000KMACXP [g]": half_sine(6, 20.0)},
        )
    write_columns(
        tmp_path / "runs" / "B1" / "push.csv",
        {"femur force [N]": half_sine(5, 3900.0), "head x [mm/ms^2]": half_sine(6, 0.19)},
    )
    (tmp_path / "notes.txt").write_text("no data\n", encoding="utf-8")
    return tmp_path


def test_the_first_file_loads_and_names_what_was_found(data: Path) -> None:
    """Load case, repeats, channels with region and class, release; proposals only as comments."""
    text = first_file(data)
    (data / "campaign.toml").write_text(text, encoding="utf-8")
    campaign = load_campaign(data)
    (case,) = campaign.load_cases
    assert case.name == "push"
    assert [path.name for path in campaign.test_paths(case)] == ["R1.csv", "R2.csv"]
    assert case.interval_ms == (0.0, 60.0)
    femur = case.plan("D0FEMRLE00KMFOZP")
    assert (femur.region, femur.cfc, femur.model) == ("leg", 600, "")
    assert [release.folder for release in campaign.releases] == ["runs/B1"]
    assert '# model = "femur force"' in text
    assert '# model = "head x"' in text
    assert len(score_campaign(campaign, workers=1).unrated) == 4


def test_the_result_of_a_load_case_is_found_by_its_name(data: Path) -> None:
    """Its ending is written down; without a result of that name nothing is."""
    assert 'model_file = "{load_case}.csv"' in first_file(data)
    (data / "runs" / "B1" / "push.csv").rename(data / "runs" / "B1" / "pull.csv")
    assert "model_file" not in first_file(data)


def test_the_interval_is_what_all_channels_cover(data: Path) -> None:
    """From 2 ms, where a repeat begins, to 50 ms, where the result ends."""
    late, short = data / "lab" / "push" / "R2.csv", data / "runs" / "B1" / "push.csv"
    head, *rows = late.read_text(encoding="utf-8").splitlines()
    late.write_text("\n".join([head, *rows[120:]]) + "\n", encoding="utf-8")
    rows = short.read_text(encoding="utf-8").splitlines()
    short.write_text("\n".join(rows[:602]) + "\n", encoding="utf-8")
    assert "interval_ms = [2, 50]" in first_file(data)


def test_accepting_every_comment_makes_a_campaign_that_rates_everything(data: Path) -> None:
    """Taking away the # before the proposed lines is all it needs."""
    text = first_file(data).replace("# model", "model")
    (data / "campaign.toml").write_text(text, encoding="utf-8")
    scores = score_campaign(load_campaign(data), workers=1)
    assert scores.unrated == []
    assert len(scores.records) == 4
    assert min(record.overall for record in scores.records) > 0.9


def test_a_folder_without_tests_or_results_is_refused(tmp_path: Path) -> None:
    """An empty folder, and one with tests alone, are told apart."""
    with pytest.raises(FormatError, match="no test with channel codes"):
        first_file(tmp_path)
    write_columns(tmp_path / "push" / "R1.csv", {"D0HEAD0000KMACXP [g]": half_sine(6, 20.0)})
    with pytest.raises(FormatError, match="no result of a model"):
        first_file(tmp_path)
