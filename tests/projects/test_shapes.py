"""One command takes a folder of each of five shapes to its first release rating."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate import load_campaign
from correlate.campaign.first_file import LEAST
from tests.benchmarks.starting import Tally, measure
from tests.cli.conftest import Outcome
from tests.cli.conftest import correlate as run_correlate
from tests.projects.shapes import SHAPES

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

correlate = run_correlate
SEED = 31


@pytest.mark.parametrize("shape", SHAPES)
def test_one_command_rates_a_project_of_any_shape(
    shape: str, tmp_path: Path, correlate: Callable[..., Outcome]
) -> None:
    """Everything in the file is rated; one line per channel, 30 for all else; the file loads as written."""
    project = SHAPES[shape](tmp_path, SEED)
    outcome = correlate("start", tmp_path, "--workers", 1)
    assert outcome.code == 0, outcome.err
    campaign = load_campaign(tmp_path)
    assert len(campaign.load_cases) == len(project.cases)
    assert len(campaign.releases) == len(project.releases)
    pairs = sum(3 * len(case.channel) for case in campaign.load_cases) * len(campaign.releases)
    assert f"{pairs} of {pairs} pairs could be rated" in outcome.out
    text = (tmp_path / "campaign.toml").read_text(encoding="utf-8")
    channels = {test for case in project.cases for test in (*project.truth(case), *project.alone(case))}
    assert len(text.splitlines()) <= 30 + len(channels)


@pytest.mark.parametrize("shape", SHAPES)
def test_partners_and_groups_of_a_project_are_right(shape: str, tmp_path: Path) -> None:
    """Nearly all, on a project that nothing was tuned with; those that are written are right."""
    tally = Tally()
    measure(shape, SEED, tmp_path / "project", tally)
    assert tally.share("groupings right", "groupings") == 1.0, tally.wrong
    assert tally.share("partners right", "partners") >= 0.9, tally.wrong
    assert tally.share("accepted right", "accepted") >= 0.95, tally.wrong
    assert 0.5 < LEAST < 1.0
