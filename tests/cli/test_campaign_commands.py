"""The campaign commands on a small project: score, compare, gate, propose, start."""

from __future__ import annotations

import csv
import json
import re
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import pytest

from tests.campaign.conftest import half_sine, write_columns
from tests.campaign.conftest import project as project_on_disk

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]

project = project_on_disk


@pytest.fixture
def two_releases(project: Path) -> Path:
    """Add a second release whose force is far worse."""
    write_columns(
        project / "worse" / "push.csv",
        {"probe force [N]": -half_sine(14.0, 2500.0), "compression [m]": half_sine(8.0, 0.055)},
    )
    file = project / "campaign.toml"
    file.write_text(file.read_text() + '\n[[release]]\nname = "B2"\nfolder = "worse"\n', encoding="utf-8")
    return project


def test_score_prints_rates_once_and_writes_csv(correlate: Run, project: Path) -> None:
    """The first run rates four pairs, the second none; the CSV has one line per pair."""
    lines = project / "pairs.csv"
    first = correlate("score", project, "--workers", 1, "--csv", lines)
    assert first.code == 0
    assert "4 pairs rated, 0 known already" in first.out
    assert "does not certify" in first.out
    again = correlate("score", project, "--workers", 1)
    assert "0 pairs rated, 4 known already" in again.out
    rows = list(csv.DictReader(lines.read_text(encoding="utf-8").splitlines()))
    assert [row["repeat"] for row in rows] == ["R1", "R2", "R1", "R2"]
    assert all(0 <= float(row["overall"]) <= 1 for row in rows)


def test_score_as_json_holds_the_tree_and_every_pair(correlate: Run, project: Path) -> None:
    """The overall number is the mean of the two channels, each the mean of its repeats."""
    found = json.loads(correlate("score", project, "--workers", 1, "--json").out)
    assert len(found["pairs"]) == 4
    mean = sum(pair["overall"] for pair in found["pairs"]) / 4
    assert found["releases"][0]["training"]["overall"] == pytest.approx(mean)
    assert found["releases"][0]["held_out"] is None


def test_compare_shows_the_loss_first(correlate: Run, two_releases: Path) -> None:
    """The force lost, the deflection did not change."""
    outcome = correlate("compare", two_releases, "B1", "B2", "--workers", 1, "--json")
    changes = [one for one in json.loads(outcome.out)["changes"] if one["kind"] == "channel"]
    assert changes[0]["words"] == "force"
    assert changes[0]["difference"] < -0.2
    assert changes[0]["verdict"] == "worse"
    assert changes[0]["estimate"]["upper"] < 0
    assert changes[1]["verdict"] == "not distinguishable"
    table = correlate("compare", two_releases, "B1", "B2", "--workers", 1)
    assert table.code == 0
    assert "not distinguishable" in table.out


def test_the_gate_stops_a_worse_release_with_reasons_and_junit(correlate: Run, two_releases: Path) -> None:
    """Exit code 1, the reasons in words, and the same checks as XML."""
    report = two_releases / "gate.xml"
    common = ("gate", two_releases, "--max-loss", 0.03, "--workers", 1)
    stopped = correlate(*common, "--release", "B2", "--baseline", "B1", "--junit", report)
    assert stopped.code == 1
    assert "Release B2 does not pass" in stopped.out
    assert "a loss of" in stopped.out
    assert re.search(r"\nB2 misses [1-9]\d* of \d+ limits; worse than B1\.\n", stopped.out)
    suite = ET.parse(report).getroot()  # noqa: S314 - written just above
    assert int(suite.attrib["tests"]) == len(suite.findall("testcase"))
    assert int(suite.attrib["failures"]) == len(suite.findall("testcase/failure")) > 0
    assert correlate(*common, "--release", "B1", "--baseline", "B2").code == 0


def test_the_gate_names_poor_channels(correlate: Run, two_releases: Path) -> None:
    """A release may meet every limit and have a channel that is poor: both are said."""
    done = correlate("gate", two_releases, "--release", "B2", "--min", 0.01, "--workers", 1)
    assert "poor, below 0.58" in done.out
    assert re.search(r"B2 meets .*, but \d channels? (is|are) poor", " ".join(done.out.split()))


def test_the_gate_stops_at_the_bar(correlate: Run, project: Path) -> None:
    """A bar no model reaches is a reason; a low one is not."""
    assert correlate("gate", project, "--release", "B1", "--min", 0.999, "--workers", 1).code == 1
    assert correlate("gate", project, "--release", "B1", "--min", 0.1, "--workers", 1).code == 0


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("score", "{}", "--release", "B7"), "no release 'B7'"),
        (("compare", "{}", "B1", "B7"), "no release 'B7'"),
        (("gate", "{}", "--release", "B1", "--max-loss", 0.1), "needs a release to compare with"),
        (("gate", "{}", "--release", "B1", "--min", 80), "the least rating is 80"),
        (
            (
                "score",
                "{}/absent.toml",
            ),
            "absent.toml: cannot be read",
        ),
        (("propose", "{}", "--accept", 9), "there is no proposal 9"),
        (("start", "{}"), "already exists"),
    ],
)
def test_wrong_words_end_with_one_sentence(
    correlate: Run, project: Path, arguments: tuple[object, ...], words: str
) -> None:
    """Names, limits and files that make no sense: exit code 2, one line, no traceback."""
    outcome = correlate(*(str(one).format(project) for one in arguments))
    assert outcome.code == 2
    assert words in outcome.err
    assert len(outcome.err.strip().splitlines()) == 1


def test_propose_ranks_and_accepts(correlate: Run, project: Path) -> None:
    """An unmapped force is proposed with reasons, accepted by number, and rated afterwards."""
    file = project / "campaign.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(
        text.replace('model = "probe force"\n', "").replace("model_sign = -1\n", ""), encoding="utf-8"
    )
    shown = correlate("propose", project)
    assert "push, force" in shown.out
    assert "'probe force', sign inverted" in shown.out
    assert "Nothing is used yet" in shown.out
    assert "accepted: push, force" in correlate("propose", project, "--accept", 1).out
    assert "4 pairs rated" in correlate("score", project, "--workers", 1).out
    assert "Every test channel has a partner" in correlate("propose", project).out


def test_an_engine_without_its_scheduler_is_refused(correlate: Callable[..., Outcome], project: Path) -> None:
    """The two options go together, and it is said before anything is rated."""
    done = correlate("score", project, "--engine", "dask")
    assert done.code == 2
    assert "--engine dask and --scheduler ADDRESS go together" in done.err
    assert not (project / "ratings.sqlite").exists()
