"""Proposals for channels without a partner, and writing an accepted one."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import Signal, load_campaign
from correlate.campaign import propose, score_campaign
from correlate.campaign.proposals import proposals_of
from correlate.campaign.rewriting import accept
from correlate.errors import SettingsError

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.campaign import Proposal

TIME = np.arange(600) * 1e-4


def pulse(name: str, unit: str, *, start: float = 0.01, height: float = 1.0) -> Signal:
    """Return a half-sine of 20 ms."""
    samples = height * np.sin(np.pi * np.clip((TIME - start) / 0.02, 0, 1))
    return Signal(samples=samples, start_s=0.0, step_s=1e-4, unit=unit, channel=name)


def test_what_measures_something_else_is_never_proposed() -> None:
    """An equal curve in another dimension is left out, however alike the names."""
    found = propose(pulse("D0HEAD0000KMACXP", "g"), [pulse("head acceleration x", "kN"), pulse("h", "m/s^2")])
    assert [one.model for one in found] == ["h"]


def test_names_and_curves_both_count_and_are_told_as_reasons() -> None:
    """Of two equal curves the one with the telling name wins; the reasons say so."""
    found = propose(
        pulse("D0HEAD0000KMACXP", "g"),
        [
            pulse("channel 7", "g"),
            pulse("head accel x", "mm/ms^2", height=0.0098),
            pulse("head accel y", "g", start=0.03),
        ],
    )
    assert [one.model for one in found] == ["head accel x", "channel 7", "head accel y"]
    assert found[0].score > 0.95
    assert found[0].score > found[1].score > found[2].score
    assert found[0].reasons[0] == "both measure acceleration"
    assert found[0].reasons[1] == "names share head, x, acceleration"
    assert "curves correlate 1.00" in found[0].reasons[2]


def test_a_turned_sign_is_seen() -> None:
    """A mirrored curve is proposed with its sign turned."""
    found = propose(pulse("force", "N"), [pulse("force", "kN", height=-1.0)])
    assert found[0].sign == -1
    assert "with the sign inverted" in found[0].reasons[-1]


def test_curves_that_do_not_overlap_are_ranked_by_name() -> None:
    """Without common time only the name counts."""
    late = Signal(samples=np.ones(100), start_s=5.0, step_s=1e-4, unit="N", channel="force")
    found = propose(pulse("neck force x", "N"), [late, replace(late, channel="head force x")])
    assert [one.model for one in found] == ["force", "head force x"]
    assert "curves could not be compared" in found[0].reasons


def unmapped(project: Path) -> list[tuple[str, list[Proposal]]]:
    """Take the mapping of the force out of the file and ask for proposals."""
    file = project / "campaign.toml"
    text = (
        file.read_text(encoding="utf-8")
        .replace('model = "probe force"\n', "")
        .replace("model_sign = -1\n", "")
    )
    file.write_text("# keep me\n" + text, encoding="utf-8")
    campaign = load_campaign(project)
    return proposals_of(campaign, campaign.releases[0])


def test_nothing_proposed_is_used_until_it_stands_in_the_file(project: Path) -> None:
    """Without a mapping the force is unrated; accepted, with its sign, it is rated; comments stay."""
    ((case, ranked),) = unmapped(project)
    assert (case, ranked[0].model, ranked[0].sign) == ("push", "probe force", -1)
    before = score_campaign(load_campaign(project), workers=1)
    assert {one.channel for one in before.unrated} == {"force"}

    file = project / "campaign.toml"
    file.write_text(accept(file.read_text(encoding="utf-8"), case, ranked[0]), encoding="utf-8")
    campaign = load_campaign(project)
    plan = campaign.load_case("push").channel[0]
    assert (plan.model, plan.model_sign) == ("probe force", -1)
    assert file.read_text(encoding="utf-8").startswith("# keep me\n")
    after = score_campaign(campaign, workers=1)
    assert (after.unrated, len(after.records)) == ([], 4)


def test_a_channel_that_was_not_planned_is_added_to_its_load_case(project: Path) -> None:
    """A proposal for a spare test channel becomes a channel table with region and usual class."""
    text = (project / "campaign.toml").read_text(encoding="utf-8")
    spare = propose(pulse("D0HEAD0000KMACXP", "g"), [pulse("head x", "g", height=-1.0)])[0]
    (project / "campaign.toml").write_text(accept(text, "push", spare), encoding="utf-8")
    plan = load_campaign(project).load_case("push").channel[-1]
    assert (plan.test, plan.model, plan.region, plan.cfc, plan.model_sign) == (
        "D0HEAD0000KMACXP",
        "head x",
        "head",
        1000,
        -1,
    )


def test_a_second_mapping_and_an_unknown_load_case_are_refused(project: Path) -> None:
    """Accepting never overwrites."""
    text = (project / "campaign.toml").read_text(encoding="utf-8")
    proposal = propose(pulse("force", "N"), [pulse("probe", "N")])[0]
    with pytest.raises(SettingsError, match="channel 'force' already has a model"):
        accept(text, "push", proposal)
    with pytest.raises(SettingsError, match="no load case 'pull'"):
        accept(text, "pull", proposal)


SCATTERED = """\
# a campaign
[campaign]
title = "scattered"

[[load_case]]
name = "push"
tests = ["tests/*"]
interval_ms = [
    0,   # from contact
    60,
]

[[load_case.channel]]
test = "force"  # of the probe
cfc = [
    180,
]

# what follows is about the second channel
[[load_case.channel]]
test = "deflection"

[[load_case]]
name = "pull"
tests = ["pull/*"]

[[release]]
name = "A1"
folder = "a"
"""


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize(
    ("case", "test"), [("push", "force"), ("push", "deflection"), ("push", "new"), ("pull", "new")]
)
def test_accepting_changes_the_keys_it_adds_and_nothing_else(end: str, case: str, test: str) -> None:
    """Arrays over several lines, comments, order and line ends stay."""
    text = SCATTERED.replace("\n", end)
    proposal = replace(propose(pulse("force", "N"), [pulse("probe", "N", height=-1.0)])[0], test=test)
    changed = accept(text, case, proposal)
    expected = tomllib.loads(text)
    (entry,) = (one for one in expected["load_case"] if one["name"] == case)
    channels = entry.setdefault("channel", [])
    if not any(one["test"] == test for one in channels):
        channels.append({"test": test, "region": "other"})
    next(one for one in channels if one["test"] == test).update(model="probe", model_sign=-1)
    assert tomllib.loads(changed) == expected
    left = iter(changed.splitlines())
    assert all(line in left for line in text.splitlines() if line), "every line stays, in its order"


def test_load_cases_apart_from_each_other_are_not_put_in_another_order() -> None:
    """The file is left as it is, and the sentence says what to do."""
    text = SCATTERED + '\n[[load_case]]\nname = "fall"\n'
    proposal = propose(pulse("force", "N"), [pulse("probe", "N")])[0]
    with pytest.raises(SettingsError, match="do not stand one after another; put them together"):
        accept(text, "push", proposal)
