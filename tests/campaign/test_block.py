"""Blocks: what a scorer remembers is never taken for the files as they are now."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import pytest

from correlate.campaign import block, load_campaign, release_evidence
from correlate.evaluation import inputs_state
from correlate.laboratory import check_with_register
from correlate.metrics.iso18571 import rate_checked
from tests.campaign.conftest import half_sine, write_columns
from tests.laboratory.books import register_in

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.evaluation import Campaign


def change(file: Path) -> None:
    """Write other curves into a test or a result."""
    model = file.parent.name == "model"
    names = ("probe force [kN]", "compression [mm]") if model else ("force [kN]", "deflection [mm]")
    write_columns(file, dict(zip(names, (half_sine(6.0, 4.4), half_sine(8.0, 61.0)), strict=True)))


def present_state(campaign: Campaign) -> str:
    """Return the state of the only block as its files are now."""
    return inputs_state(campaign, campaign.releases[0], campaign.load_cases[0])


@pytest.mark.parametrize("name", ["tests/R2.csv", "model/push.csv"])
def test_a_scorer_that_is_held_reads_what_changed_since(project: Path, name: str) -> None:
    """A second block of one scorer has the keys and the state of a new scorer."""
    campaign = load_campaign(project)
    job = campaign.load_cases[0], campaign.releases[0], ()
    held = block.BlockScorer(campaign)
    before = held.score(*job)
    change(project / name)
    after, new = held.score(*job), block.BlockScorer(campaign).score(*job)
    assert [one.key for one in after.pairs] == [one.key for one in new.pairs]
    assert [one.key for one in after.pairs] != [one.key for one in before.pairs]
    assert after.evidence == new.evidence
    assert after.evidence.state == present_state(campaign) != before.evidence.state


@pytest.mark.parametrize("name", ["tests/R2.csv", "model/push.csv"])
def test_a_file_that_changes_while_it_is_rated_is_stale(
    project: Path, name: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The state is that of the files before they were read."""
    campaign = load_campaign(project)

    def change_and_rate(*given: Any, **settings: Any) -> object:
        change(project / name)
        return rate_checked(*given, **settings)

    monkeypatch.setattr(block, "rate_checked", change_and_rate)
    scored = block.BlockScorer(campaign).score(campaign.load_cases[0], campaign.releases[0], ())
    assert scored.evidence.state != present_state(campaign)


def test_a_test_that_changes_while_it_is_checked_counts_as_not_checked(
    project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Findings are of the tests before they were read."""
    campaign = load_campaign(project)
    case = campaign.load_cases[0]

    def change_and_check(*given: Any) -> object:
        change(project / "tests" / "R2.csv")
        return check_with_register(*given)

    monkeypatch.setattr("correlate.laboratory.check_with_register", change_and_check)
    state = release_evidence.checked_tests(campaign, case).state
    assert state != release_evidence.state_of_check(campaign, case)


def test_tests_are_compared_with_the_register_of_the_project(project: Path) -> None:
    """Findings about headers join those of the data check, and are stale once the register changes."""
    campaign = load_campaign(project)
    case = campaign.load_cases[0]
    before = release_evidence.checked_tests(campaign, case)
    assert "sensor unknown" not in {one.kind for one in before.findings}
    register_in(campaign.folder)
    found = release_evidence.checked_tests(campaign, case)
    assert "sensor unknown" in {one.kind for one in found.findings}
    assert found.state != before.state
    assert found.state == release_evidence.state_of_check(campaign, case)
    register_in(campaign.folder, "")
    assert found.state != release_evidence.state_of_check(campaign, case)
