"""The page how-to/ten-minutes.md on a folder of each of five shapes."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest

from correlate import load_campaign
from correlate.campaign.first_file import FirstCampaign, Told
from tests.docs import shell
from tests.docs.blocks import ALL
from tests.docs.demo_project import shared_demo
from tests.docs.running import assert_printed
from tests.projects.shapes import SHAPES

if TYPE_CHECKING:
    from pathlib import Path

PAGE = ALL["docs/how-to/ten-minutes.md"]
SHOWN = "fixed width"
"""Shape whose output the page shows."""
SEED = 31


@pytest.mark.parametrize("shape", SHAPES)
def test_the_page_works_on_a_folder_of_any_shape(shape: str, tmp_path: Path) -> None:
    """From raw files to a first rating with one command, then score and propose; nothing is rated twice."""
    SHAPES[shape](tmp_path / "my-data", SEED)
    printed = []
    for block in PAGE:
        if block.marks.get("run by") == "tests/docs/test_ten_minutes.py":
            printed.append(shell.run(block, tmp_path))
        elif "printed" in block.marks and shape == SHOWN:
            assert_printed(block, printed[-1])
    assert "pairs could be rated" in printed[0]
    assert "0 pairs rated" in printed[1]


def test_the_campaign_of_the_demo_is_found(tmp_path_factory: pytest.TempPathFactory) -> None:
    """All load cases, releases, partners and signs, as somebody wrote them; nothing was tuned with it."""
    demo = shared_demo(tmp_path_factory)
    first = FirstCampaign(demo, Told(tests="laboratory/*/*", results="releases/*/*.csv"))
    written = load_campaign(demo)
    assert {case.name for case in first.grouping.cases} == {case.name for case in written.load_cases}
    assert first.grouping.releases == tuple(release.name for release in written.releases)
    for case in written.load_cases:
        found = {one.test: (one.model, one.sign) for one in first.assignments[case.name].partners}
        assert found == {plan.test: (plan.model_pattern, plan.model_sign) for plan in case.channel}
