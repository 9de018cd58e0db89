"""What a project holds: found on the disk and counted, never read."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import TYPE_CHECKING

from correlate.campaign import load_campaign
from correlate.store import RatedRelease
from correlate.store.scored import holdings

if TYPE_CHECKING:
    from pathlib import Path

CAMPAIGN = """
campaign.title = "Held"

[[load_case]]
name = "push"
tests = ["tests/push-*"]
interval_ms = [0, 50]
channel = [
    {test = "x", region = "head"}, {test = "y", region = "head"}, {test = "z", region = "head"},
]
resultant = [{title = "r", axes = ["x", "y", "z"], region = "head"}]

[[load_case]]
name = "pull"
tests = ["tests/pull-*"]
interval_ms = [0, 50]
channel = [{test = "x", region = "head"}]

[[release]]
name = "B1"
folder = "B1"

[[release]]
name = "B2"
folder = "B2"
"""


def test_tests_results_and_ratings_are_counted(tmp_path: Path) -> None:
    """Two tests of four curves, one a resultant; one case has no test, one release lacks a result."""
    (tmp_path / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    for name in ("tests/push-1.csv", "tests/push-2.csv", "B1/push.csv", "B1/pull.csv", "B2/pull.csv"):
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).touch()
    moment = datetime(2026, 1, 2, tzinfo=UTC)
    rated = RatedRelease(name="B1", pairs=7, first_rated=moment, last_rated=moment)
    held = holdings(load_campaign(tmp_path), [rated])
    assert (held.tests, held.channels, held.pairs) == (2, 5, 8)
    assert [one.tests for one in held.load_cases] == [("push-1", "push-2"), ()]
    assert "no test matches 'tests/pull-*'" in held.load_cases[1].problem
    first, second = held.releases
    assert (first.absent, first.rated_pairs, first.last_rated) == ((), 7, moment)
    assert (second.absent, second.rated_pairs, second.last_rated) == (("push",), 0, None)
