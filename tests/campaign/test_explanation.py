"""Where a release loses its rating: planted faults are told for what they are."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import load_campaign
from correlate.campaign import aggregate, score_campaign
from correlate.campaign.explanation import explain
from correlate.diagnosis.hints import hints
from correlate.errors import SettingsError, SignalError
from tests.campaign.slow_project import (
    REPEATS_MS,
    TIME_MS,
    build,
    curves,
    model,
    pulse,
    second_case_gone,
    write,
)

if TYPE_CHECKING:
    from collections.abc import Iterable
    from pathlib import Path

    from correlate.campaign.explanation import ChannelExplanation, Explanation
    from correlate.diagnosis.hints import EvidenceChannel, Hint

RESULTANT = """
[[load_case.resultant]]
title = "of all three"
axes = ["force", "force", "force"]
region = "neck"
"""


def explained(folder: Path, *, top: int = 10) -> Explanation:
    """Score the project and explain its release."""
    campaign = load_campaign(folder)
    return explain(campaign, score_campaign(campaign, workers=1).records, "B1", top=top)


@pytest.fixture(scope="module")
def found(tmp_path_factory: pytest.TempPathFactory) -> Explanation:
    """Explain the project once."""
    return explained(build(tmp_path_factory.mktemp("slow")))


def softened(folder: Path) -> Path:
    """Replace moment and angle of the model by those of a softer one, the force left turned."""
    late = {"start_ms": 50, "length_ms": 520}
    soft = {"moment [N·m]": 65 * pulse(**late), "angle [deg]": 75 * pulse(**late)}
    write(folder / "B1" / "slow.csv", model() | soft)
    return folder


def with_a_second_case(folder: Path, sign: float) -> Path:
    """Let tuning use the second load case, of the same curves times a factor; return the folder."""
    for number, late_ms in enumerate(REPEATS_MS, start=1):
        turned = {name: sign * values for name, values in curves(late_ms).items()}
        write(folder / "more" / f"R{number}.csv", turned)
    late = {"start_ms": 50, "length_ms": 520}
    soft = {"moment [N·m]": 65 * pulse(**late), "angle [deg]": 75 * pulse(**late)}
    write(folder / "B1" / "more.csv", {name: sign * values for name, values in (model() | soft).items()})
    file = folder / "campaign.toml"
    head, second = file.read_text(encoding="utf-8").split('name = "secret"')
    second = second.replace("slow.csv", "more.csv").replace("held_out = true", "held_out = false")
    file.write_text(f'{head}name = "more"{second.replace("tests/*", "more/*")}', encoding="utf-8")
    return folder


@pytest.fixture
def asked(monkeypatch: pytest.MonkeyPatch) -> list[list[EvidenceChannel]]:
    """Note which channels the hints are asked for, each time."""
    calls: list[list[EvidenceChannel]] = []

    def noted(channels: Iterable[EvidenceChannel]) -> tuple[Hint, ...]:
        calls.append(list(channels))
        return hints(calls[-1])

    monkeypatch.setattr("correlate.campaign.explanation.hints", noted)
    return calls


def channel(found: Explanation, name: str) -> ChannelExplanation:
    """Return an examined channel by name."""
    return next(one for one in found.channels if one.cost.channel == name)


def test_costs_are_ordered_and_add_up_to_what_is_missing(found: Explanation) -> None:
    """The turned force costs most; all three are the loss of the release."""
    assert found.costs[0].channel == "force"
    assert sum(one.cost for one in found.costs) == pytest.approx(1 - found.overall, abs=1e-12)
    assert [one.cost for one in found.channels] == list(found.costs)
    assert found.load_cases[0].cost == pytest.approx(1 - found.overall, abs=1e-12)


def test_a_late_channel_is_told_with_the_scatter_of_its_repeats(found: Explanation) -> None:
    """6 ms late on average, where the repeats are 1 ms apart: mostly phase, and beyond their scatter."""
    moment = channel(found, "moment")
    assert moment.cost.mostly == "phase"
    assert moment.cost.errors["phase"] == pytest.approx(0.006)
    assert moment.hardware is not None
    # Repeats 1 ms apart: a further one may be some ms off, but not 6.
    assert 0.002 < moment.hardware.bounds["phase"] < 0.0055
    assert moment.hardware.model["phase"] == pytest.approx(0.006)
    assert moment.hardware.holds("phase") is False
    assert moment.hardware_cost is not None
    assert 0 < moment.hardware_cost < moment.cost.cost


def test_the_account_is_of_the_repeat_nearest_to_the_mean(found: Explanation) -> None:
    """6 ms late against the middle repeat, 5 and 7 ms against the others: the middle one is typical."""
    moment = channel(found, "moment")
    assert moment.repeat == "R1"
    assert moment.account is not None
    assert moment.account.by_component["phase"] == pytest.approx(0.2 * 6 / (0.2 * 501))


def test_a_turned_sign_is_the_first_suspect_of_its_channel_alone(found: Explanation) -> None:
    """The force is turned; moment and angle are not accused."""
    assert channel(found, "force").suspects[0].kind == "sign turned"
    assert channel(found, "moment").suspects == ()
    assert channel(found, "angle").suspects == ()


def test_channels_that_err_together_are_one_cluster(found: Explanation) -> None:
    """The angle errs as the moment does, with the other sign; the force has an error of its own."""
    (cluster,) = found.load_cases[0].clusters
    assert set(cluster.names) == {"moment", "angle"}
    assert [(one.sign, one.lag_samples) for one in cluster.members] == [(1, 0), (-1, 0)]


def test_angles_are_told_to_the_hints_as_travels(tmp_path: Path, asked: list[list[EvidenceChannel]]) -> None:
    """Moments are told as forces; every rated channel is there, but the force whose sign is suspected."""
    (case,) = explained(softened(build(tmp_path))).load_cases
    (channels,) = asked
    assert {(one.name, one.load_case, one.role) for one in channels} == {
        ("moment", "slow", "force"),
        ("angle", "slow", "travel"),
    }
    assert (case.waiting, case.silence) == (("force",), "")
    assert case.hints == hints(channels) != ()


def test_the_evidence_is_the_model_against_the_mean_of_the_repeats(
    tmp_path: Path, asked: list[list[EvidenceChannel]]
) -> None:
    """The mean scatters least; the moment of the repeats is a half sine at three times."""
    explained(softened(build(tmp_path)))
    moment = next(one for one in asked[0] if one.name == "moment")
    mean = np.mean([curves(late)["moment [N·m]"] for late in REPEATS_MS], axis=0)[50:551]
    assert moment.pair.reference == pytest.approx(mean, abs=1e-6)


def test_load_cases_of_one_region_and_direction_are_explained_together(
    tmp_path: Path, asked: list[list[EvidenceChannel]]
) -> None:
    """Both ask once, get the same hints, and name each other."""
    folder = with_a_second_case(softened(build(tmp_path)), 1.3)
    slow, more = sorted(explained(folder).load_cases, key=lambda one: one.load_case != "slow")
    (channels,) = asked
    assert {one.load_case for one in channels} == {"slow", "more"}
    assert (slow.together, more.together) == (("more",), ("slow",))
    assert slow.hints == more.hints != ()


def test_flexion_and_extension_are_not_explained_together(
    tmp_path: Path, asked: list[list[EvidenceChannel]]
) -> None:
    """Loaded the other way, another part may be behind it: each load case is asked alone."""
    found = explained(with_a_second_case(softened(build(tmp_path)), -1.3))
    assert sorted({one.load_case for one in channels}.pop() for channels in asked) == ["more", "slow"]
    assert [len({one.load_case for one in channels}) for channels in asked] == [1, 1]
    assert [one.together for one in found.load_cases] == [(), ()]


def test_a_channel_within_scatter_is_evidence_beside_others(
    tmp_path: Path, asked: list[list[EvidenceChannel]]
) -> None:
    """The moment asks for an explanation; the angle, which is right, has to fit it, and is listed."""
    folder = build(tmp_path)
    late = {"start_ms": 50, "length_ms": 520}
    write(folder / "B1" / "slow.csv", curves(0.5) | {"moment [N·m]": 65 * pulse(**late)})
    (case,) = explained(folder).load_cases
    assert set(case.within_scatter) == {"angle", "force"}
    assert {one.name for one in asked[0]} == {"moment", "angle", "force"}
    assert case.hints != ()


def test_no_channel_is_left_for_hints(found: Explanation) -> None:
    """The force is turned, the angle only shifted, the moment within scatter: no hints, and the reason."""
    (case,) = found.load_cases
    assert (case.waiting, case.within_scatter, case.shifted) == (("force",), ("moment",), ("angle",))
    assert case.hints == ()
    assert case.silence == (
        "no channel can give hints: 1 with a suspected data-handling error, 1 within hardware scatter, "
        "1 with a loss that a shift in time alone mostly recovers"
    )


def test_a_shift_of_all_channels_is_a_suspect_of_the_load_case(tmp_path: Path) -> None:
    """12 ms late everywhere: one suspect with its ratings, none of the channels, and no hints."""
    folder = build(tmp_path)
    write(folder / "B1" / "slow.csv", curves(12.0))
    found = explained(folder)
    (case,) = found.load_cases
    assert case.time_zero is not None
    assert case.time_zero.change["candidate_shifts_s"] == pytest.approx(
        dict.fromkeys(("moment", "angle", "force"), -0.012)
    )
    assert case.time_zero.rating_before == pytest.approx(found.overall, abs=0.02)
    assert case.time_zero.rating_after > 0.98
    assert case.hints == ()
    assert case.silence == "time zero is suspected to be wrong in all channels; resolve this first"
    assert [one.suspects for one in found.channels] == [(), (), ()]


def test_what_is_to_be_written_restores_the_rating(tmp_path: Path) -> None:
    """The override of the remedy, written into the campaign file, gives the rating that was announced."""
    folder = build(tmp_path)
    write(folder / "B1" / "slow.csv", curves(12.0))
    suspect = explained(folder).load_cases[0].time_zero
    assert suspect is not None
    assert 'write [[load_case.override]] test = "*", model_shift_ms = -12 in this load case' in suspect.fix
    file = folder / "campaign.toml"
    override = '[[load_case.override]]\ntest = "*"\nmodel_shift_ms = -12\n'
    text = file.read_text(encoding="utf-8")
    file.write_text(
        text.replace('[[load_case]]\nname = "secret"', f'{override}[[load_case]]\nname = "secret"')
    )
    corrected = explained(folder)
    assert corrected.load_cases[0].time_zero is None
    ratings = [one.rating for one in corrected.costs if one.rating is not None]
    assert sum(ratings) / 3 == pytest.approx(suspect.rating_after, abs=1e-9)
    assert corrected.load_cases[0].silence == "the model is within hardware scatter in every channel"


def test_a_model_within_hardware_scatter_gives_no_hints(tmp_path: Path) -> None:
    """A model that is one more repeat: silence, with the reason."""
    folder = build(tmp_path)
    write(folder / "B1" / "slow.csv", curves(0.5))
    (case,) = explained(folder).load_cases
    assert set(case.within_scatter) == {"moment", "angle", "force"}
    assert (case.hints, case.evidence) == ((), ())
    assert case.silence == "the model is within hardware scatter in every channel"


def test_a_minor_axis_does_not_speak(tmp_path: Path) -> None:
    """A force of a fiftieth of the moment, named as an axis of its sensor, is left out and listed."""
    folder = softened(build(tmp_path, of_force='sensor = "neck"\nweight = 2.0\nmodel_sign = -1'))
    file = folder / "campaign.toml"
    text = file.read_text(encoding="utf-8").replace('title = "neck moment"', 'sensor = "neck"')
    file.write_text(text, encoding="utf-8")
    for path in [*(folder / "tests").iterdir(), folder / "B1" / "slow.csv"]:
        words = path.read_text(encoding="utf-8").replace("force [kN]", "force [N·m]")
        path.write_text(words, encoding="utf-8")
    assert explained(folder).load_cases[0].minor == ("force",)


def test_held_out_load_cases_are_not_looked_into(found: Explanation) -> None:
    """Their costs are told, their causes are not: nobody shall tune on them."""
    assert found.held_out is not None
    assert {one.load_case for one in found.held_out_costs} == {"secret"}
    assert sum(one.cost for one in found.held_out_costs) == pytest.approx(1 - found.held_out, abs=1e-12)
    assert {one.cost.load_case for one in found.channels} == {"slow"}
    assert [one.load_case for one in found.load_cases] == ["slow"]


def test_only_the_most_expensive_channels_are_examined(tmp_path: Path) -> None:
    """With top 1, that is the force; all costs stay."""
    found = explained(build(tmp_path), top=1)
    assert [one.cost.channel for one in found.channels] == ["force"]
    assert len(found.costs) == 3


def test_the_mean_curve_can_be_the_reference(tmp_path: Path) -> None:
    """The account is against the mean, the scatter still that of the repeats, suspects those of a repeat."""
    found = explained(build(tmp_path, repeats="mean curve"))
    force = channel(found, "force")
    assert force.repeat == "mean of 3"
    assert force.account is not None
    assert force.cost.rating == pytest.approx(1 - force.account.total, abs=1e-9)
    assert force.hardware is not None
    assert force.suspects[0].kind == "sign turned"


def test_a_resultant_is_explained_without_suspects(tmp_path: Path) -> None:
    """Its axes are examined for mistakes, it is not; its cost counts like any other."""
    found = explained(build(tmp_path, resultant=RESULTANT))
    resultant = channel(found, "of all three")
    assert resultant.account is not None
    assert resultant.hardware is not None
    assert resultant.suspects == ()
    assert sum(one.cost for one in found.costs) == pytest.approx(1 - found.overall, abs=1e-12)


def test_a_missing_channel_that_counts_as_zero_is_told_as_such(tmp_path: Path) -> None:
    """It costs its whole weight, and there is nothing to account for over time."""
    file = build(tmp_path, missing="zero") / "B1" / "slow.csv"
    text = file.read_text(encoding="utf-8")
    file.write_text(text.replace("force [kN]", "push [kN]"), encoding="utf-8")
    found = explained(tmp_path)
    force = channel(found, "force")
    assert force.cost.rating is None
    assert force.cost.cost == pytest.approx(1 / 2 / 3)
    assert (force.account, force.repeat, force.suspects) == (None, "", ())


def test_a_channel_without_rating_is_examined_for_suspects(tmp_path: Path) -> None:
    """Moved by 120 ms, the force ends before the interval does: no rating, no cost, but a suspect."""
    found = explained(build(tmp_path, of_force="model_shift_ms = -120\nmodel_sign = -1"))
    (force,) = found.unrated
    assert (force.cost.channel, force.cost.rating, force.cost.cost) == ("force", None, 0.0)
    assert force.suspects[0].kind == "one channel shifted"
    assert "force" not in [one.cost.channel for one in found.channels]


def test_a_channel_of_zeros_is_told_and_gives_no_hints(tmp_path: Path) -> None:
    """The model's force is not connected: it is rated, but hints wait."""
    folder = build(tmp_path)
    write(folder / "B1" / "slow.csv", model() | {"force [kN]": 0 * TIME_MS})
    found = explained(folder)
    assert [one.cost.channel for one in found.channels if one.model_is_zero] == ["force"]
    assert found.load_cases[0].waiting == ("force",)


def test_a_load_case_without_results_is_told(tmp_path: Path) -> None:
    """Its pairs are there with file and reason, those of other releases are not."""
    campaign = load_campaign(second_case_gone(tmp_path))
    scores = score_campaign(campaign, workers=1)
    other = replace(scores.unrated[0], release="B2")
    found = explain(campaign, scores.records, "B1", unrated=[*scores.unrated, other])
    assert found.unrated_load_cases == ("secret",)
    assert len(found.gaps) == 9
    assert all("gone.csv" in gap.reason for gap in found.gaps)


def test_the_overall_is_that_of_the_score(found: Explanation, tmp_path: Path) -> None:
    """The number is the one that the score command shows."""
    campaign = load_campaign(build(tmp_path))
    records = score_campaign(campaign, workers=1).records
    assert found.overall == aggregate(campaign, records, "B1").training.overall


def test_what_cannot_be_explained_is_refused(tmp_path: Path) -> None:
    """An unknown release, no channel to examine, nothing rated."""
    campaign = load_campaign(build(tmp_path))
    with pytest.raises(SettingsError, match="there is no release 'B7'"):
        explain(campaign, [], "B7")
    with pytest.raises(SettingsError, match="top is 0; give 1 or more"):
        explain(campaign, [], "B1", top=0)
    with pytest.raises(SignalError, match=r"campaign.toml: nothing of release 'B1' is rated"):
        explain(campaign, [], "B1")


def test_the_costs_become_a_data_frame(found: Explanation) -> None:
    """One row a channel; the costs of the components add up to the cost, held-out channels are told apart."""
    table = found.to_frame()
    assert table["channel"].tolist() == [one.channel for one in (*found.costs, *found.held_out_costs)]
    assert table["held_out"].sum() == len(found.held_out_costs) > 0
    assert table["cost"].tolist() == [one.cost for one in (*found.costs, *found.held_out_costs)]
    parts = table.filter(like="cost_").sum(axis=1)
    assert parts.tolist() == pytest.approx(table["cost"].tolist())
