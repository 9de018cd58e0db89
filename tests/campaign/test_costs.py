"""What each channel costs a release: hand-made sums, and that the costs add up whatever the weights."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import pytest
from hypothesis import given
from hypothesis import strategies as st

from correlate import Weights, load_campaign
from correlate.campaign import PairRecord, aggregate
from correlate.campaign.explanation import ChannelCost, by_component, by_load_case, channel_costs
from tests.campaign.test_aggregation import ALL, campaign
from tests.campaign.test_aggregation import record as plain_record

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.campaign import Campaign

PUBLISHED = Weights()
CHANNELS = [("drop", name) for name in ("hx", "hy", "hz", "chest", "spine")] + [("push", "force")]
Scores = tuple[float, float, float, float]


def costs_of(file: Campaign, records: list[PairRecord]) -> dict[tuple[str, str], ChannelCost]:
    """Return the costs of the training load cases by place."""
    score = aggregate(file, records, "B1").training
    found = channel_costs(score, records, release="B1", weights=PUBLISHED)
    return {(one.load_case, one.channel): one for one in found}


def record(place: tuple[str, str], scores: Scores, *, shift_s: float = 0.0, repeat: str = "R1") -> PairRecord:
    """Make a record from the four scores by the published weights."""
    corridor, phase, magnitude, slope = scores
    overall = 0.4 * corridor + 0.2 * phase + 0.2 * magnitude + 0.2 * slope
    made = plain_record(*place, overall, repeat=repeat)
    return replace(made, corridor=corridor, phase=phase, magnitude=magnitude, slope=slope, shift_s=shift_s)


def test_costs_are_those_that_a_hand_makes(tmp_path: Path) -> None:
    """Share by share: load case 2/3, head 3/4, axis by its peak 200/400; spine 2/3 · 1/4 · 4/5."""
    costs = costs_of(campaign(tmp_path), ALL)
    assert costs["drop", "hx"].weight == pytest.approx(1 / 4)
    assert costs["drop", "hx"].cost == pytest.approx(0.1 / 4)
    assert costs["drop", "spine"].cost == pytest.approx(2 / 15 * 0.6)
    assert costs["drop", "chest"].cost == pytest.approx(2 / 3 / 4 / 5 * 0.3)
    assert costs["push", "force"].cost == 0.0
    assert next(iter(costs)) == ("drop", "spine")


def test_held_out_load_cases_cost_the_release_nothing(tmp_path: Path) -> None:
    """They are in a tree of their own, whose costs add up to 1 minus its own number."""
    file = campaign(tmp_path)
    assert ("secret", "force") not in costs_of(file, ALL)
    held_out = aggregate(file, ALL, "B1").held_out
    assert held_out is not None
    (only,) = channel_costs(held_out, ALL, release="B1", weights=PUBLISHED)
    assert (only.load_case, only.weight) == ("secret", 1.0)
    assert only.cost == pytest.approx(0.7)


def test_a_missing_channel_costs_nothing_when_it_is_left_out(tmp_path: Path) -> None:
    """The others share its weight: the chest then has all of the thorax."""
    some = [entry for entry in ALL if entry.channel != "spine"]
    costs = costs_of(campaign(tmp_path), some)
    assert (costs["drop", "spine"].rating, costs["drop", "spine"].cost) == (None, 0.0)
    assert costs["drop", "chest"].cost == pytest.approx(2 / 3 / 4 * 0.3)


def test_a_missing_channel_that_counts_as_zero_costs_its_whole_weight(tmp_path: Path) -> None:
    """It is listed apart from the components, because no component lost it."""
    some = [entry for entry in ALL if entry.channel != "spine"]
    file = campaign(tmp_path, scoring='[scoring]\nmissing = "zero"\n')
    costs = costs_of(file, some)
    assert costs["drop", "spine"].cost == pytest.approx(2 / 15)
    assert costs["drop", "spine"].mostly is None
    assert by_component(list(costs.values()))["not rated"] == pytest.approx(2 / 15)


def test_the_component_that_costs_most_is_named(tmp_path: Path) -> None:
    """Phase loses 0.2 · 0.8, corridor 0.4 · 0.3: mostly phase, of a channel with weight 1/3."""
    records = [record(("push", "force"), (0.7, 0.2, 1.0, 1.0), shift_s=0.004)]
    cost = costs_of(campaign(tmp_path), [*ALL[:-2], *records])["push", "force"]
    assert cost.mostly == "phase"
    assert cost.by_component["phase"] == pytest.approx(0.16 / 3)
    assert cost.by_component["corridor"] == pytest.approx(0.12 / 3)
    assert cost.errors["phase"] == 0.004
    assert cost.errors["corridor"] == pytest.approx(0.3)


def test_errors_are_means_over_the_repeats_and_shifts_keep_their_sign(tmp_path: Path) -> None:
    """4 ms late and 1 ms early are 1.5 ms late; an error that is no number is left out."""
    records = [
        record(("push", "force"), (1.0, 0.5, 1.0, 1.0), shift_s=0.004, repeat="R1"),
        record(("push", "force"), (1.0, 0.9, 1.0, 1.0), shift_s=-0.001, repeat="R2"),
    ]
    cost = costs_of(campaign(tmp_path), records)["push", "force"]
    assert cost.errors["phase"] == pytest.approx(0.0015)
    assert "slope" not in cost.errors


def test_load_cases_add_up_their_channels(tmp_path: Path) -> None:
    """The drop costs 2/3 of what it lacks to 1, the push nothing."""
    file = campaign(tmp_path)
    release = aggregate(file, ALL, "B1").training
    sums = by_load_case(list(costs_of(file, ALL).values()))
    assert list(sums) == ["drop", "push"]
    assert sums["drop"] == pytest.approx(2 / 3 * (1 - (release.parts[0].overall or 0)))
    assert sums["push"] == 0.0


def test_another_main_measure_is_shared_as_the_rating_is_lost(tmp_path: Path) -> None:
    """The cost is that of the measure; the components have the shares they have in the rating."""
    file = campaign(tmp_path, scoring='[scoring]\nmain = "weighted-integrated-factor"\n')
    made = record(("push", "force"), (0.7, 0.2, 1.0, 1.0))
    made.ingredients["also"] = {"weighted-integrated-factor": {"value": 0.44, "reason": ""}}
    cost = costs_of(file, [made])["push", "force"]
    assert cost.cost == pytest.approx(0.56)
    assert cost.by_component["phase"] == pytest.approx(0.56 * 0.16 / 0.28)


score = st.floats(0.0, 1.0)
scored = st.tuples(score, score, score, score)


@pytest.fixture(scope="module")
def files(tmp_path_factory: pytest.TempPathFactory) -> dict[bool, Campaign]:
    """Write the campaign once for each way of counting what is missing."""
    folders = {zero: tmp_path_factory.mktemp("sums") for zero in (False, True)}
    for zero, folder in folders.items():
        campaign(folder, scoring='[scoring]\nmissing = "zero"\n' if zero else "")
    return {zero: load_campaign(folder) for zero, folder in folders.items()}


@given(
    zero=st.booleans(),
    there=st.lists(st.sampled_from(CHANNELS), min_size=1, unique=True),
    scores=st.lists(scored, min_size=12, max_size=12),
)
def test_the_costs_of_all_channels_are_what_the_release_lacks(
    files: dict[bool, Campaign],
    zero: bool,  # noqa: FBT001 - hypothesis gives it by name
    there: list[tuple[str, str]],
    scores: list[Scores],
) -> None:
    """Whatever is rated and missing: costs add up to 1 - overall, and components to the cost."""
    records = [
        record(place, scores[2 * number + repeat], repeat=f"R{repeat}")
        for number, place in enumerate(there)
        for repeat in range(2)
    ]
    overall = aggregate(files[zero], records, "B1").training.overall
    assert overall is not None
    costs = list(costs_of(files[zero], records).values())
    assert len(costs) == len(CHANNELS)
    assert sum(one.cost for one in costs) == pytest.approx(1.0 - overall, abs=1e-12)
    assert sum(by_load_case(costs).values()) == pytest.approx(1.0 - overall, abs=1e-12)
    assert sum(by_component(costs).values()) == pytest.approx(1.0 - overall, abs=1e-12)
    for one in costs:
        if one.by_component:
            assert sum(one.by_component.values()) == pytest.approx(one.cost, abs=1e-12)
            assert one.rating is not None
            direct = [1.0 - entry.phase for entry in records if entry.channel == one.channel]
            expected = one.weight * 0.2 * sum(direct) / 2
            assert one.by_component["phase"] == pytest.approx(expected, abs=1e-9)
