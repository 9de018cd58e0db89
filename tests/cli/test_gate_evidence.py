"""The gate on evidence: what is missing, stale or doubtful never passes, unless it is waived by name."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING
from xml.etree import ElementTree as ET

import numpy as np
import pytest

from correlate import load_campaign, open_store, stored_ratings
from tests.campaign.conftest import half_sine, write_columns
from tests.campaign.conftest import project as project_on_disk

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]
    Curve = np.ndarray[tuple[int], np.dtype[np.float64]]

project = project_on_disk


@pytest.fixture
def steady(project: Path) -> Path:
    """Give the project a third repeat, a held-out load case, and a second release that is as good."""
    noise = np.random.default_rng(1)

    def noisy(
        curve: np.ndarray[tuple[int], np.dtype[np.float64]], size: float
    ) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
        return np.asarray(curve + size * noise.standard_normal(curve.size))

    for place, (late, high) in enumerate([(5.0, 4.0), (5.5, 4.2), (5.2, 4.1)], start=1):
        columns = {
            "force [kN]": noisy(half_sine(late, high), 0.004),
            "deflection [mm]": noisy(half_sine(late + 2, 60.0), 0.06),
        }
        write_columns(project / "tests" / f"R{place}.csv", columns)
        write_columns(project / "held" / f"H{place}.csv", columns)
    for name, factor in (("model", 1.0), ("second", 1.001)):
        for case in ("push", "pull"):
            write_columns(
                project / name / f"{case}.csv",
                {
                    "probe force [N]": -half_sine(6.0, 3900.0 * factor),
                    "compression [m]": half_sine(8.0, 0.055),
                },
            )
    file = project / "campaign.toml"
    text = file.read_text(encoding="utf-8")
    case = text[text.index("[[load_case]]") : text.index("[[release]]")]
    held = case.replace('"push"', '"pull"').replace("tests/*.csv", "held/*.csv")
    held = held.replace("interval_ms", "held_out = true\ninterval_ms")
    file.write_text(f'{text}\n{held}\n[[release]]\nname = "B2"\nfolder = "second"\n', encoding="utf-8")
    return project


def flat(outcome: Outcome) -> str:
    """Return what was printed as one line."""
    return " ".join(outcome.out.split())


def gated(correlate: Run, folder: Path, *more: object) -> Outcome:
    """Check the second release against the first."""
    return correlate(
        "gate", folder, "--release", "B2", "--baseline", "B1", "--max-loss", 0.05, "--workers", 1, *more
    )


def test_a_complete_release_passes(correlate: Run, steady: Path) -> None:
    """Everything is there, of the present files, and no worse."""
    outcome = gated(correlate, steady)
    assert outcome.code == 0, outcome.out
    assert "Release B2 passes" in outcome.out


def test_one_byte_too_many_in_a_test_fails_with_the_file(correlate: Run, steady: Path) -> None:
    """A repeat that cannot be read is missing: the mean of the others is no evidence for it."""
    assert gated(correlate, steady).code == 0
    with (steady / "tests" / "R2.csv").open("a", encoding="utf-8") as file:
        file.write("x")
    junit = steady / "gate.xml"
    outcome = gated(correlate, steady, "--junit", junit)
    assert outcome.code == 1
    said = flat(outcome)
    assert "B2: every repeat is rated: push / 2 channels / R2: tests/R2.csv, line" in said
    root = ET.parse(junit).getroot()  # noqa: S314 - written just above
    failures = {one.get("name") for one in root.iter("testcase") if one.find("failure") is not None}
    assert failures >= {"B2: every repeat is rated", "B1: every repeat is rated"}


def test_a_result_that_is_not_there_fails_although_the_rest_is_good(correlate: Run, steady: Path) -> None:
    """Half of a release is no release; a held-out load case counts too."""
    (steady / "second" / "pull.csv").unlink()
    outcome = gated(correlate, steady)
    assert outcome.code == 1
    assert "B2: held-out load cases are complete: pull / 2 channels: second/pull.csv" in " ".join(
        outcome.out.split()
    )
    (steady / "second" / "push.csv").unlink()
    assert "B2: every channel is rated: push / 2 channels" in flat(gated(correlate, steady))


def test_a_repeat_that_was_there_before_is_missed(correlate: Run, steady: Path) -> None:
    """Taking a test away after it was rated leaves a gap; what was never there leaves none."""
    assert gated(correlate, steady).code == 0
    (steady / "tests" / "R3.csv").unlink()
    outcome = gated(correlate, steady)
    assert outcome.code == 1
    assert "R3: it was rated before, but the campaign no longer names it" in " ".join(outcome.out.split())


def test_fewer_tests_than_expected_fail(correlate: Run, steady: Path) -> None:
    """A load case may say how many repeats there should be."""
    file = steady / "campaign.toml"
    text = file.read_text(encoding="utf-8")
    file.write_text(
        text.replace('name = "push"\n', 'name = "push"\nexpected_repeats = 5\n'), encoding="utf-8"
    )
    outcome = gated(correlate, steady)
    assert outcome.code == 1
    assert "push / 2 channels: 5 tests are expected, 3 are named" in flat(outcome)


def test_what_is_missing_can_be_allowed_by_name_and_is_printed(correlate: Run, steady: Path) -> None:
    """The allowance covers the repeat it names in both releases, in the terminal and in JUnit."""
    assert gated(correlate, steady).code == 0
    (steady / "tests" / "R3.csv").write_text("nothing\n", encoding="utf-8")
    assert gated(correlate, steady).code == 1
    assert gated(correlate, steady, "--allow-incomplete", "pull/R3").code == 1
    junit = steady / "gate.xml"
    allowed = gated(correlate, steady, "--allow-incomplete", "push/R3", "--junit", junit)
    assert allowed.code == 0, allowed.out
    assert "waived, B2: every repeat is rated: push / 2 channels / R3" in flat(allowed)
    assert "waived: push / 2 channels / R3" in junit.read_text(encoding="utf-8")
    unneeded = gated(correlate, steady, "--allow-incomplete", "push/R3", "--allow-incomplete", "pull")
    assert "allowed: pull: not needed, nothing is missing there" in flat(unneeded)


def spoil(folder: Path) -> None:
    """Turn the sign of a repeat, which the data check calls an error."""
    file = folder / "tests" / "R2.csv"
    head, *rows = file.read_text(encoding="utf-8").splitlines()
    turned = [f"{time},{-float(force)!r},{rest}" for time, force, rest in (row.split(",") for row in rows)]
    file.write_text("\n".join([head, *turned, ""]), encoding="utf-8")


def test_an_error_in_the_data_fails_until_somebody_answers_for_it(correlate: Run, steady: Path) -> None:
    """The finding is named; a line in waivers.toml lets check, gate and score go on, and is printed."""
    spoil(steady)
    outcome = correlate("gate", steady, "--release", "B1", "--workers", 1)
    assert outcome.code == 1
    said = flat(outcome)
    assert "reference data: no open error: push / force / R2: polarity" in said
    found = json.loads(correlate("check", steady / "tests", "--json").out)
    errors = [one for one in found["findings"] if one["severity"] == "error"]
    assert "polarity" in {one["kind"] for one in errors}
    answer = 'who = "lab", date = 2026-01-02, why = "known"'
    lines = [
        f'  {{ test = "R2", channel = "{one["channel"]}", finding = "{one["kind"]}", {answer} }},\n'
        for one in errors
    ]
    (steady / "waivers.toml").write_text(f"waivers = [\n{''.join(lines)}]\n", encoding="utf-8")
    checked = correlate("check", steady / "tests")
    assert checked.code == 0
    assert "waived by lab on 2026-01-02: known" in flat(checked)
    passed = correlate("gate", steady, "--release", "B1", "--workers", 1)
    assert passed.code == 0, passed.out
    assert "waived, reference data: no open error: polarity in" in flat(passed)
    assert "waived by lab" in " ".join(correlate("score", steady, "--workers", 1).out.split())


def test_a_rating_of_older_files_is_called_stale(correlate: Run, steady: Path) -> None:
    """What the store holds is judged by today's files: marks on the release, and a check that fails."""
    assert correlate("score", steady, "--workers", 1).code == 0
    campaign = load_campaign(steady)
    with open_store(steady / "ratings.sqlite") as store:
        assert stored_ratings(store, campaign).evidence["B2"].marks() == ()
    write_columns(
        steady / "second" / "push.csv",
        {"probe force [N]": -half_sine(9.0, 3000.0), "compression [m]": half_sine(8.0, 0.055)},
    )
    with open_store(steady / "ratings.sqlite") as store:
        held = stored_ratings(store, campaign).evidence
    assert held["B2"].marks() == ("stale",)
    assert held["B2"].marks(["pull"]) == ()
    assert held["B1"].marks() == ()
    assert correlate("score", steady, "--workers", 1).code == 0
    with open_store(steady / "ratings.sqlite") as store:
        assert stored_ratings(store, campaign).evidence["B2"].marks() == ()


def test_ratings_of_repeats_that_are_gone_are_no_part_of_the_board(correlate: Run, steady: Path) -> None:
    """The store remembers them, the numbers do not: nor those of another way to take repeats together."""
    campaign = load_campaign(steady)
    assert correlate("score", steady, "--workers", 1).code == 0
    with open_store(steady / "ratings.sqlite") as store:
        assert len(stored_ratings(store, campaign).pairs) == 2 * 2 * 2 * 3
    file = steady / "campaign.toml"
    file.write_text(
        f'{file.read_text(encoding="utf-8")}\n[scoring]\nrepeats = "mean curve"\n', encoding="utf-8"
    )
    assert correlate("score", steady, "--workers", 1).code == 0
    with open_store(steady / "ratings.sqlite") as store:
        pairs = stored_ratings(store, load_campaign(steady)).pairs
        assert len(store.rated_pairs(campaign.title)) > len(pairs)
    assert {one.repeat for one in pairs} == {"mean of 3"}
    assert len(pairs) == 2 * 2 * 2


def test_score_says_how_much_could_be_rated(correlate: Run, steady: Path) -> None:
    """Some: the share in words, exit code 0; none: exit code 1."""
    (steady / "second" / "pull.csv").unlink()
    some = correlate("score", steady, "--workers", 1)
    assert some.code == 0
    assert "18 of 24 pairs could be rated." in flat(some)
    none = correlate("score", steady, "--release", "B1", "--workers", 1, "--store", steady / "other.sqlite")
    assert none.code == 0
    for file in (steady / "model").glob("*.csv"):
        file.unlink()
    none = correlate("score", steady, "--release", "B1", "--workers", 1)
    assert none.code == 1
    assert "0 of 12 pairs could be rated." in flat(none)


def test_evidence_is_in_the_object(correlate: Run, steady: Path) -> None:
    """Expected, found, rated and missing of every channel, and the limits, for programs."""
    (steady / "tests" / "R3.csv").write_text("nothing\n", encoding="utf-8")
    found = json.loads(correlate("score", steady, "--release", "B1", "--workers", 1, "--json").out)
    (evidence,) = found["evidence"]
    push = next(one for one in evidence["load_cases"] if one["load_case"] == "push")
    force = next(one for one in push["channels"] if one["channel"] == "force")
    assert (force["expected"], force["found"], force["rated"]) == (3, ["R1", "R2"], ["R1", "R2"])
    assert list(force["missing"]) == ["R3"]
    assert evidence["limits"] == {"least": None, "largest_loss": None}
    assert {gap["kind"] for gap in evidence["gaps"]} == {"repeat missing"}
