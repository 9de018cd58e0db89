"""From ratings of pairs to one number, checked by hand-made sums."""

from __future__ import annotations

from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate.campaign import PairRecord, aggregate, load_campaign
from correlate.campaign.aggregation import Score, combine

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.campaign import Campaign

FILE = """
[campaign]
title = "sums"
{scoring}
[regions]
head = 3.0

[[load_case]]
name = "drop"
tests = ["t/*"]
interval_ms = [0, 50]
weight = 2.0
{head}
[[load_case.channel]]
test = "hx"
sensor = "head"
region = "head"
[[load_case.channel]]
test = "hy"
sensor = "head"
region = "head"
[[load_case.channel]]
test = "hz"
sensor = "head"
region = "head"
[[load_case.channel]]
test = "chest"
region = "thorax"
weight = 1.0
[[load_case.channel]]
test = "spine"
region = "thorax"
weight = 4.0

[[load_case]]
name = "push"
tests = ["t/*"]
interval_ms = [0, 50]
[[load_case.channel]]
test = "force"
region = "thorax"

[[load_case]]
name = "secret"
tests = ["t/*"]
interval_ms = [0, 50]
held_out = true
[[load_case.channel]]
test = "force"
region = "thorax"

[[release]]
name = "B1"
folder = "b1"
"""


def campaign(folder: Path, *, scoring: str = "", head: str = "") -> Campaign:
    """Write and load the campaign."""
    (folder / "campaign.toml").write_text(FILE.format(scoring=scoring, head=head), encoding="utf-8")
    return load_campaign(folder)


def record(case: str, channel: str, overall: float, *, repeat: str = "R1", peak: float = 1.0) -> PairRecord:
    """Make a record with just the numbers that count here."""
    return PairRecord(
        key=f"{case}{channel}{repeat}",
        campaign="sums",
        release="B1",
        load_case=case,
        channel=channel,
        repeat=repeat,
        overall=overall,
        grade="fair",
        corridor=overall,
        phase=overall,
        magnitude=overall,
        slope=overall,
        shift_s=0.0,
        samples=500,
        inputs={},
        settings={},
        ingredients={"corridor": {"reference_peak": peak}},
        version="0",
    )


ALL = [
    record("drop", "hx", 0.9, peak=200.0),
    record("drop", "hy", 0.5, peak=50.0),
    record("drop", "hz", 0.7, peak=150.0),
    record("drop", "chest", 0.8, repeat="R1"),
    record("drop", "chest", 0.6, repeat="R2"),
    record("drop", "spine", 0.4),
    record("push", "force", 1.0),
    record("secret", "force", 0.3),
]


def named(score: Score, name: str) -> Score:
    """Return a part by name."""
    return next(part for part in score.parts if part.name == name)


def test_the_tree_is_the_weighted_sum_that_a_hand_makes(tmp_path: Path) -> None:
    """Axes by peak shares, channels, regions and load cases by their weights; held-out apart."""
    result = aggregate(campaign(tmp_path), ALL, "B1")
    drop = named(result.training, "drop")
    head = named(drop, "head")
    sensor = head.parts[0]
    assert sensor.kind == "sensor"
    assert sensor.overall == pytest.approx((200 * 0.9 + 50 * 0.5 + 150 * 0.7) / 400)
    thorax = named(drop, "thorax")
    assert named(thorax, "chest").overall == pytest.approx(0.7)
    assert thorax.overall == pytest.approx((1 * 0.7 + 4 * 0.4) / 5)
    assert drop.overall == pytest.approx((3 * (sensor.overall or 0) + 1 * (thorax.overall or 0)) / 4)
    assert result.training.overall == pytest.approx((2 * (drop.overall or 0) + 1 * 1.0) / 3)
    assert result.held_out is not None
    assert result.held_out.overall == 0.3
    assert "secret" not in [part.name for part in result.training.parts]


def test_the_spread_of_a_channel_is_that_of_its_repeats(tmp_path: Path) -> None:
    """Range and standard deviation of 0.8 and 0.6."""
    thorax = named(named(aggregate(campaign(tmp_path), ALL, "B1").training, "drop"), "thorax")
    chest = named(thorax, "chest")
    assert (chest.lowest, chest.highest, chest.repeats) == (0.6, 0.8, 2)
    assert chest.spread == pytest.approx(0.02**0.5)


def test_body_regions_are_combined_over_the_load_cases(tmp_path: Path) -> None:
    """Thorax: weight 2 of the drop and 1 of the push; the held-out case does not count."""
    result = aggregate(campaign(tmp_path), ALL, "B1")
    thorax = next(region for region in result.regions if region.name == "thorax")
    assert thorax.overall == pytest.approx((2 * (1 * 0.7 + 4 * 0.4) / 5 + 1 * 1.0) / 3)


def test_a_missing_channel_is_counted_and_its_weight_shared(tmp_path: Path) -> None:
    """Without the spine the thorax is the chest alone, and says 1 of 2 channels."""
    some = [entry for entry in ALL if entry.channel != "spine"]
    thorax = named(named(aggregate(campaign(tmp_path), some, "B1").training, "drop"), "thorax")
    assert thorax.overall == pytest.approx(0.7)
    assert thorax.completeness == "1 of 2 channels"


def test_a_missing_channel_can_count_as_zero(tmp_path: Path) -> None:
    """With ``missing = "zero"`` the spine costs its whole share."""
    some = [entry for entry in ALL if entry.channel != "spine"]
    file = campaign(tmp_path, scoring='[scoring]\nmissing = "zero"\n')
    thorax = named(named(aggregate(file, some, "B1").training, "drop"), "thorax")
    assert thorax.overall == pytest.approx(1 * 0.7 / 5)
    assert thorax.completeness == "1 of 2 channels"


def test_a_missing_axis_weighs_as_the_largest_when_it_counts_as_zero(tmp_path: Path) -> None:
    """An axis without data has no peak; it is weighed as the largest of the others."""
    some = [entry for entry in ALL if entry.channel != "hy"]
    file = campaign(tmp_path, scoring='[scoring]\nmissing = "zero"\n')
    sensor = named(named(aggregate(file, some, "B1").training, "drop"), "head").parts[0]
    assert sensor.overall == pytest.approx((200 * 0.9 + 150 * 0.7) / (200 + 200 + 150))


def test_nothing_rated_has_no_number(tmp_path: Path) -> None:
    """A release without a single rating has none, and says so."""
    result = aggregate(campaign(tmp_path), [], "B1")
    assert result.training.overall is None
    assert result.training.grade is None
    assert result.training.completeness == "0 of 6 channels"


@given(
    values=st.lists(st.tuples(st.floats(0, 1), st.floats(0.01, 10)), min_size=1, max_size=8),
)
def test_a_combined_number_lies_between_its_parts_and_shares_add_up(
    values: list[tuple[float, float]],
) -> None:
    """A weighted mean stays within its parts; the shares shown with them add up to 1."""
    parts = [
        (Score(kind="channel", name=str(n), words="", overall=value, rated=1, expected=1), weight)
        for n, (value, weight) in enumerate(values)
    ]
    whole = combine("region", "r", "r", parts)
    assert whole.overall is not None
    assert min(v for v, _ in values) - 1e-12 <= whole.overall <= max(v for v, _ in values) + 1e-12
    assert sum(part.weight for part in whole.parts) == pytest.approx(1.0)
    assert whole.overall == pytest.approx(sum(part.weight * (part.overall or 0) for part in whole.parts))
