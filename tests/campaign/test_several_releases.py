"""The numbers of several releases side by side."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest

from correlate.campaign import ReleaseLine, ReleaseTable, aggregate, compare, compare_releases
from correlate.errors import SettingsError
from tests.campaign.test_aggregation import campaign
from tests.campaign.test_comparison import SCATTER, scores

if TYPE_CHECKING:
    from pathlib import Path


@pytest.fixture
def table(tmp_path: Path) -> ReleaseTable:
    """Compare three releases: the spine gets better and worse again, the force is lost in the last one."""
    force = [one for one in SCATTER if one.channel != "force"]
    changed = {("drop", "spine"): 0.2}
    return compare_releases(
        [
            replace(scores(tmp_path, {}), release="C1"),
            replace(scores(tmp_path, changed), release="C2"),
            replace(aggregate(campaign(tmp_path), force, "B1"), release="C3"),
        ]
    )


def line(table: ReleaseTable, name: str) -> ReleaseLine:
    """Return the line of a channel."""
    return next(one for one in table.lines if one.kind == "channel" and one.place[-1] == name)


def test_each_number_has_one_rating_a_release_and_the_best(table: ReleaseTable) -> None:
    """The spine was best in the middle; of equal ratings the first counts; what is missing is none."""
    spine, chest, force = line(table, "spine"), line(table, "chest"), line(table, "force")
    assert table.releases == ("C1", "C2", "C3")
    assert spine.ratings[1] == pytest.approx((spine.ratings[0] or 0) + 0.2)
    assert spine.best == "C2"
    assert chest.best == "C1"
    assert force.ratings[2] is None
    assert force.best == "C1"
    assert force.last.verdict == "rated in one release only"


def test_the_last_change_is_that_of_the_comparison_of_two(tmp_path: Path) -> None:
    """Difference, interval and verdict are those of `compare` for the last two releases, line by line."""
    before = replace(scores(tmp_path, {}), release="C1")
    after = replace(scores(tmp_path, {("drop", "chest"): -0.05, ("drop", "spine"): 0.2}), release="C2")
    first = replace(scores(tmp_path, {("drop", "chest"): 0.05}), release="C0")
    table = compare_releases([first, before, after])
    alone = compare(before, after)
    assert sorted(map(repr, alone)) == sorted(repr(one.last) for one in table.lines)
    assert {one.last.verdict for one in table.lines} >= {"worse", "not distinguishable: one repeat"}


def test_lines_stand_in_the_order_of_the_file_held_out_ones_last(table: ReleaseTable) -> None:
    """The release, its regions, then each load case before its channels."""
    assert table.lines[0].kind == "release"
    kinds = [one.kind for one in table.lines if not one.held_out]
    regions = kinds.count("region")
    assert kinds[1 : 1 + regions] == ["region"] * regions
    case = None
    for one in table.lines[1 + regions :]:
        if one.kind == "channel":
            assert one.place[0] == case
        elif one.kind == "load case":
            case = one.place[0]
    held = [one.held_out for one in table.lines]
    assert held == sorted(held)


def test_a_data_frame_has_a_column_a_release(table: ReleaseTable) -> None:
    """The rows are those of the lines, and a missing rating is not a number."""
    frame = table.to_frame()
    assert list(frame.columns) == [
        *("kind", "place", "words", "held_out", "C1", "C2", "C3"),
        *("best", "last_change", "lower", "upper", "verdict", "marks"),
    ]
    assert len(frame) == len(table.lines)
    assert frame["C3"].isna().sum() > 0


@pytest.mark.parametrize("names", [[], ["C1"], ["C1", "C1"]])
def test_fewer_than_two_releases_are_refused(tmp_path: Path, names: list[str]) -> None:
    """There is nothing to compare, or one is named twice."""
    given = [replace(scores(tmp_path, {}), release=name) for name in names]
    with pytest.raises(SettingsError, match="name at least two, each once"):
        compare_releases(given)
