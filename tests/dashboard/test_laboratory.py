"""What the dashboard knows about the tests of a project."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest

from correlate import RunInfo, checked_tests, load_campaign, open_store, score_into
from correlate.campaign import campaign_ceilings
from dashboard import laboratory as laboratory_module
from dashboard.laboratory import Laboratory
from dashboard.state import Project
from tests.dashboard.dummies_project import write_register
from tests.dashboard.project import write_project

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Campaign, LoadCase
    from dashboard.laboratory import CampaignHealth


@pytest.fixture(scope="module")
def rated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the small project and rate it, as the command does."""
    folder = write_project(tmp_path_factory.mktemp("laboratory") / "small")
    campaign = load_campaign(folder)
    with open_store(folder / "ratings.sqlite") as store:
        score_into(store, campaign, run=RunInfo.now(who="analyst"), workers=1)
        store.keep_ceilings(campaign_ceilings(campaign))
    return folder


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[str]:
    """Return the names of load cases whose tests the data check is run over."""
    names: list[str] = []

    def count(campaign: Campaign, load_case: LoadCase) -> object:
        names.append(load_case.name)
        return checked_tests(campaign, load_case)

    monkeypatch.setattr(laboratory_module, "checked_tests", count)
    return names


def complete(laboratory: Laboratory) -> CampaignHealth:
    """Request the health until every load case is examined."""
    return laboratory.health(laboratory.project.campaign(), longest_s=60.0)


def test_findings_saved_with_the_ratings_are_not_computed_again(
    rated: Path, tmp_path: Path, asked: list[str]
) -> None:
    """They equal those of a new check, as does everything else that the page shows for a load case."""
    saved = complete(Laboratory(Project(rated)))
    assert asked == []
    assert {one.checked for one in saved.cases} == {"when it was rated"}
    without = tmp_path / "without"
    shutil.copytree(rated, without, ignore=shutil.ignore_patterns("ratings.sqlite*"))
    new = complete(Laboratory(Project(without)))
    assert sorted(asked) == ["drop", "impact"]
    for ours, other in zip(saved.cases, new.cases, strict=True):
        assert ours.health.errors > 0
        for name in (
            "tests",
            "channels",
            "errors",
            "warnings",
            "waived",
            "missing",
            "weakest",
            "worst_channel",
        ):
            assert getattr(ours.health, name) == getattr(other.health, name), name
        assert other.checked.endswith("UTC")


def test_findings_of_other_bytes_are_not_used(rated: Path, tmp_path: Path, asked: list[str]) -> None:
    """If a test changed after it was checked, only its load case is checked again."""
    folder = shutil.copytree(rated, tmp_path / "changed")
    test = next((folder / "laboratory/impact").iterdir())
    test.write_text(test.read_text(encoding="utf-8") + "\n", encoding="utf-8")
    complete(Laboratory(Project(folder)))
    assert asked == ["impact"]


def test_another_register_is_another_check(rated: Path, tmp_path: Path, asked: list[str]) -> None:
    """The data check compares the tests with it, so earlier findings are not shown."""
    folder = shutil.copytree(rated, tmp_path / "registered")
    laboratory = Laboratory(Project(folder))
    complete(laboratory)
    assert asked == []
    write_register(folder)
    complete(laboratory)
    assert sorted(asked) == ["drop", "impact"]


def test_a_request_does_not_wait_for_every_load_case(rated: Path, asked: list[str]) -> None:
    """Each request examines at least one, so that all are known in the end; none is examined twice."""
    laboratory = Laboratory(Project(rated))
    campaign = laboratory.project.campaign()
    first = laboratory.health(campaign, longest_s=0.0)
    assert [len(first.cases), len(first.waiting)] == [1, 1]
    second = laboratory.health(campaign, longest_s=0.0)
    assert [len(second.cases), len(second.waiting)] == [2, 0]
    assert second == laboratory.health(campaign, longest_s=0.0)
    assert asked == []


def test_a_load_case_that_cannot_be_read_does_not_stop_the_others(rated: Path, tmp_path: Path) -> None:
    """Its error is kept like any other result; otherwise every request would stop there again."""
    folder = shutil.copytree(rated, tmp_path / "broken")
    for test in (folder / "laboratory/drop").iterdir():
        test.write_text("no test\n", encoding="utf-8")
    laboratory = Laboratory(Project(folder))
    campaign = laboratory.project.campaign()
    for _ in campaign.load_cases:
        found = laboratory.health(campaign, longest_s=0.0)
    assert not found.waiting
    worst = found.cases[0]
    assert (worst.health.load_case.name, worst.checked) == ("drop", "")
    assert worst.health.problem
