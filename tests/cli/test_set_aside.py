"""Channels that cannot be used: every command shows them, and only planned ones stand in the way."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from correlate import load_campaign
from correlate.campaign import score_campaign
from correlate.evaluation import CaseEvaluation, Missing
from correlate.formats import read
from tests.campaign.conftest import half_sine
from tests.campaign.conftest import project as project_on_disk
from tests.cli.test_gate_evidence import flat, gated
from tests.cli.test_gate_evidence import steady as steady_project
from tests.formats.examples import SEAT_FILE, written_test

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]

project = project_on_disk
steady = steady_project


def spoil(file: Path, column: int) -> None:
    """Write a word into the fifth row of a column."""
    lines = file.read_text(encoding="utf-8").splitlines()
    cells = lines[5].split(",")
    cells[column] = "OL"
    lines[5] = ",".join(cells)
    file.write_text("\n".join(lines) + "\n", encoding="utf-8")


def add_states(file: Path) -> None:
    """Add a column of words that no pair needs."""
    header, *rows = file.read_text(encoding="utf-8").splitlines()
    text = "".join(f"{row},ok\n" for row in rows)
    file.write_text(f"{header},state [1]\n{text}", encoding="utf-8")


def test_planned_channel_is_missing_with_its_own_reason(project: Path) -> None:
    """The other pairs are rated as ever; the evidence counts the repeat as missing and says why."""
    before = {
        (one.channel, one.repeat): one.overall for one in score_campaign(load_campaign(project)).records
    }
    spoil(project / "tests" / "R2.csv", 1)
    scores = score_campaign(load_campaign(project), workers=1)
    after = {(one.channel, one.repeat): one.overall for one in scores.records}
    assert after == {pair: rating for pair, rating in before.items() if pair != ("force", "R2")}
    [unrated] = scores.unrated
    assert "R2.csv, line 6, column 2 ('force'): 'OL' is not a number" in unrated.reason
    force, deflection = scores.evidence[0].channels
    assert force.missing["R2"].startswith("tests/R2.csv, line 6, column 2 ('force'): 'OL' is not a number")
    assert (force.rated, deflection.rated) == (("R1",), ("R1", "R2"))
    assert not force.is_complete
    assert scores.unpaired == []


def test_channel_in_no_pair_is_listed_beside_the_spare_ones(project: Path, correlate: Run) -> None:
    """Of tests and models, with their number; every pair is rated."""
    for name in ("tests/R1.csv", "tests/R2.csv", "model/push.csv"):
        add_states(project / name)
    scores = score_campaign(load_campaign(project), workers=1)
    assert (len(scores.records), scores.unrated) == (4, [])
    assert scores.evidence[0].channels[0].is_complete
    tests, model = scores.unpaired
    assert (tests.channels, len(tests.set_aside), len(model.set_aside)) == ((), 2, 1)
    assert (
        "channel 'state' is set aside: tests/R1.csv, line 2, column 4 ('state'): 'ok' is not"
        in (tests.set_aside[0])
    )
    said = flat(correlate("score", project, "--workers", 1))
    assert "Unpaired test channels of push that cannot be used: 2 channel 'state' is set aside" in said
    listed = json.loads(correlate("score", project, "--json", "--workers", 1).out)["unpaired"]
    assert [len(one["set_aside"]) for one in listed] == [2, 1]


def test_another_channel_does_not_take_the_place_of_one_that_is_set_aside(project: Path) -> None:
    """A pattern of the campaign fits it still."""
    file = project / "campaign.toml"
    file.write_text(file.read_text().replace('"probe force"', '"probe force*"'), encoding="utf-8")
    model = project / "model" / "push.csv"
    header, *rows = model.read_text(encoding="utf-8").splitlines()
    model.write_text(
        header.replace("[N]", "[furlong]")
        + ",compression force [N]\n"
        + "".join(f"{row},1\n" for row in rows)
    )
    campaign = load_campaign(project)
    pair = CaseEvaluation(campaign, campaign.load_cases[0]).pair(campaign.releases[0], "force", "R1")
    assert isinstance(pair.candidate, Missing)
    assert "column 2 ('probe force'): the unit 'furlong' is not known" in pair.candidate.reason


def test_the_gate_fails_on_a_planned_channel_only(steady: Path, correlate: Run) -> None:
    """A channel of words in no pair is a finding beside the result."""
    add_states(steady / "tests" / "R2.csv")
    outcome = gated(correlate, steady)
    assert outcome.code == 0, outcome.out
    spoil(steady / "tests" / "R2.csv", 1)
    outcome = gated(correlate, steady)
    assert outcome.code == 1
    assert "push / force / R2" in flat(outcome)
    assert "set aside: the channel cannot be used: line 6, column 2 ('force'): 'OL' is not a num" in flat(
        outcome
    )


def test_check_finds_it_as_an_error_that_can_be_waived(project: Path, correlate: Run, tmp_path: Path) -> None:
    """With place and remedy, in the table, in JSON and on the page."""
    test = project / "tests" / "R2.csv"
    add_states(test)
    page = tmp_path / "check.html"
    outcome = correlate("check", test, "--html", page)
    assert outcome.code == 1
    said = flat(outcome)
    assert "error set aside R2.csv State the channel cannot be used: line 2, column 4 ('state'): 'ok'" in said
    assert "the channel cannot be used" in page.read_text(encoding="utf-8")
    waivers = tmp_path / "waivers.toml"
    waivers.write_text(
        '[[waivers]]\ntest = "R2"\nchannel = "state"\nfinding = "set aside"\nwho = "lab"\n'
        'date = 2026-01-31\nwhy = "a text"\n'
    )
    found = json.loads(correlate("check", test, "--waivers", waivers, "--json").out)
    assert [one["kind"] for one in found["waived"]] == ["set aside"]
    assert "set aside" not in [one["kind"] for one in found["findings"]]


def test_check_names_channels_of_one_code(correlate: Run, tmp_path: Path) -> None:
    """Which of the two is meant, nobody but the laboratory knows."""
    path = tmp_path / "run.csv"
    rows = "".join(f"{0.1 * n:.1f},{a},{a}\n" for n, a in enumerate(half_sine(20, 4)))
    path.write_text("time [ms],force [kN],force [kN]\n" + rows)
    found = json.loads(correlate("check", path, "--json").out)["findings"]
    assert ("same name", "warning", "force #2") in {
        (one["kind"], one["severity"], one["channel"]) for one in found
    }


@pytest.mark.parametrize("target", ["out.h5", "out.csv", "out"])
def test_convert_names_what_it_does_not_write(target: str, correlate: Run, tmp_path: Path) -> None:
    """On standard error, with the reason; an archive keeps the reason too."""
    source = written_test(tmp_path, _001="", _002=SEAT_FILE)
    outcome = correlate("convert", source, tmp_path / target)
    assert outcome.code == 0
    assert "warning: channel 'D0HEAD0000KMACX0' is set aside: " in outcome.err
    assert "channel 001 'D0HEAD0000KMACX0' is listed but its file is missing" in outcome.err
    assert "1 channel, 1 set aside" in outcome.out
    again = read(tmp_path / target)
    kept = [str(one) for one in again.set_aside]
    assert kept == ([str(one) for one in read(source).set_aside] if target == "out.h5" else [])


def test_package_needs_a_reason_and_says_what_cannot_be_used(correlate: Run, tmp_path: Path) -> None:
    """The test is refused like any with an error, and shared with the reason and the sentence."""
    folder = tmp_path / "lab" / "drops" / "T1"
    folder.parent.mkdir(parents=True)
    written_test(folder.parent, _001="").rename(folder)
    bag = tmp_path / "bag"
    refused = correlate("pack", folder, "--out", bag, "--checked-by", "lab")
    assert refused.code != 0
    assert "set aside: the channel cannot be used" in refused.err
    packed = correlate("pack", folder, "--out", bag, "--checked-by", "lab", "--despite", "cable torn")
    assert packed.code == 0, packed.err
    [test] = json.loads((bag / "data" / "description.json").read_text(encoding="utf-8"))["tests"]
    assert "channel 'D0HEAD0000KMACX0' is set aside" in test["set_aside"][0]


def test_repeats_name_what_one_of_them_cannot_give(project: Path, correlate: Run) -> None:
    """The channel is left out of the comparison, and said to be."""
    spoil(project / "tests" / "R2.csv", 1)
    outcome = correlate("repeats", project / "tests")
    assert outcome.code == 0, outcome.err
    assert "warning: channel 'force' is set aside: " in outcome.err
    assert "Deflection" in outcome.out
    assert "Force" not in outcome.out
