"""``correlate explain``: a pair and a campaign by their arguments, what is printed, what is refused."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import pytest

from docs.pictures import diagnosis
from tests.campaign.slow_project import build, curves, second_case_gone, write

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]


@pytest.fixture
def wide(monkeypatch: pytest.MonkeyPatch) -> None:
    """Give the terminal columns enough that no sentence is broken."""
    monkeypatch.setenv("COLUMNS", "400")


def refuses(outcome: Outcome, *words: str) -> None:
    """Check that a run ended with code 2, one line and these words, and no traceback."""
    assert outcome.code == 2
    assert outcome.out == ""
    assert len(outcome.err.strip().splitlines()) == 1, outcome.err
    for word in words:
        assert word in outcome.err
    assert "Traceback" not in outcome.err


@pytest.mark.usefixtures("wide")
def test_a_pair_is_explained_in_the_terminal(correlate: Run, pulse_files: tuple[Path, Path]) -> None:
    """1 ms late and 10 % small: the account, both changes that win, no suspect, the caution."""
    outcome = correlate("explain", *pulse_files, "--channel", "force")
    assert outcome.code == 0, outcome.err
    for words in (
        "model 1 ms late",
        "Where it is lost",
        "What a change of the model curve would gain",
        "Suspected data-handling errors",
        "Features that differ",
        "peak",
        "Hints about what may be wrong in the model",
        "they are not findings",
        "does not certify",
    ):
        assert words in outcome.out
    lines = outcome.out.splitlines()
    assert any(line.split() == ["phase", "0.017"] for line in lines), outcome.out


def test_a_pair_as_json_holds_every_part(correlate: Run, pulse_files: tuple[Path, Path]) -> None:
    """The rating is that of `correlate pair`; the components add up to what it lacks."""
    found = json.loads(correlate("explain", *pulse_files, "--channel", "force", "--json").out)
    pair = json.loads(correlate("pair", *pulse_files, "--channel", "force", "--json").out)
    assert found["pair"]["overall"] == pair["overall"]
    assert sum(found["account"]["by_component"].values()) == pytest.approx(1 - pair["overall"], abs=1e-9)
    assert found["account"]["by_component"]["phase"] == pytest.approx(0.2 * 10 / (0.2 * 601))
    assert set(found) == {
        "pair", "account", "model_is_zero", "what_if", "suspects", "differences", "hints_wait", "silence",
        "hints", "version",
    }  # fmt: skip
    peak = next(one for one in found["differences"] if one["name"] == "peak")
    assert (peak["test"], peak["model"]) == (pytest.approx(100.0), pytest.approx(90.0))


def test_a_pair_is_conditioned_as_the_options_say(correlate: Run, pulse_files: tuple[Path, Path]) -> None:
    """Interval, filter and sign reach the rating; the sign turned on purpose is the first suspect."""
    options = ["--channel", "force", "--cfc", 180, "--from", 5, "--to", 55, "--turn-sign"]
    found = json.loads(correlate("explain", *pulse_files, *options, "--json").out)
    assert found["pair"]["samples"] == 501
    assert found["pair"]["settings"]["conditioning"]["cfc"] == 180
    assert found["suspects"][0]["kind"] == "sign turned"
    assert found["suspects"][0]["fix"].endswith("leave --turn-sign out")
    assert (found["hints_wait"], found["hints"]) == (True, [])


@pytest.mark.usefixtures("wide")
def test_the_terminal_prints_the_two_most_probable_hints(correlate: Run) -> None:
    """JSON has all hints of a pair, most probable first."""
    arguments = (
        "explain", diagnosis.TEST, diagnosis.MODEL, "--channel",
        "00PEND000000ACXP", "--candidate-channel", "probe deceleration", "--turn-sign", "--cfc", 180,
        "--from", 0, "--to", 60,
    )  # fmt: skip
    weights = [hint["weight"] for hint in json.loads(correlate(*arguments, "--json").out)["hints"]]
    assert len(weights) > 2
    printed = re.findall(r"\(probability (\d\.\d+)\)", correlate(*arguments).out)
    assert printed == [f"{weight:.2f}" for weight in weights[:2]]


@pytest.mark.usefixtures("wide")
def test_hints_wait_for_a_turned_sign_to_be_cleared(correlate: Run, pulse_files: tuple[Path, Path]) -> None:
    """Rightly read, the sign is turned with the option; no material is blamed meanwhile."""
    lines = correlate("explain", *pulse_files, "--channel", "force", "--turn-sign").out.splitlines()
    hinted = lines[lines.index("Hints about what may be wrong in the model") + 1]
    assert hinted.strip() == "No hints: a data-handling error is suspected; resolve it first."
    assert any(". Check the polarity" in line and "leave --turn-sign out" in line for line in lines)


@pytest.mark.usefixtures("wide")
def test_a_model_of_zeros_gives_no_numbers_that_mean_nothing(
    correlate: Run, pulse_files: tuple[Path, Path]
) -> None:
    """Headline, what-if and suspects say what it is; the JSON has no what-if."""
    test, model = pulse_files
    header, *rows = model.read_text(encoding="utf-8").splitlines()
    zeros = [",".join([row.split(",")[0], *("0" for _ in row.split(",")[1:])]) for row in rows]
    model.write_text("\n".join([header, *zeros]) + "\n", encoding="utf-8")
    out = correlate("explain", test, model, "--channel", "force").out
    assert out.count("the model is zero throughout: not connected, or the wrong column?") == 3
    assert "none helps" not in out
    found = json.loads(correlate("explain", test, model, "--channel", "force", "--json").out)
    assert (found["model_is_zero"], found["what_if"], found["hints"]) == (True, None, [])


@pytest.mark.usefixtures("wide")
def test_a_campaign_is_explained_in_the_terminal(correlate: Run, tmp_path: Path) -> None:
    """The table a person acts on: place, points, what it is, and the hardware beside it."""
    outcome = correlate("explain", build(tmp_path), "--workers", 1)
    assert outcome.code == 0, outcome.err
    lines = [" ".join(line.split()) for line in outcome.out.splitlines()]
    assert any(line.startswith("1. slow, force") for line in lines)
    (moment,) = [line for line in lines if "slow, neck moment 0." in line]
    assert "mostly phase, model 6 ms late, beyond hardware scatter (up to 3.3 ms)" in moment
    assert any(
        line.startswith("slow 0.") and "angle; neck moment (opposite sign)" in line for line in lines
    ) or any(line.startswith("slow 0.") and "neck moment; angle (opposite sign)" in line for line in lines)
    assert any("sign turned:" in line for line in lines)
    assert any(line.startswith("Held-out load cases: rating") for line in lines)
    assert "they are not findings" in outcome.out
    assert "does not certify" in outcome.out


@pytest.mark.usefixtures("wide")
def test_a_shift_of_time_zero_is_told_with_its_load_case(correlate: Run, tmp_path: Path) -> None:
    """Among the suspects with ratings and override, and as the reason for silence; in JSON likewise."""
    folder = build(tmp_path)
    write(folder / "B1" / "slow.csv", curves(12.0))
    out = correlate("explain", folder, "--workers", 1).out
    lines = [line.strip() for line in out.splitlines()]
    suspect = lines[lines.index("slow, all channels") + 1]
    assert suspect.startswith("time zero off: the model is late by the same time, 12.0 ms, in 3 channels")
    assert "model_shift_ms = -12 in this load case" in suspect
    assert "No hints: time zero is suspected to be wrong in all channels; resolve this first." in lines
    (case, *_) = json.loads(correlate("explain", folder, "--workers", 1, "--json").out)["load_cases"]
    assert case["time_zero"]["kind"] == "time zero off"
    assert case["silence"].startswith("time zero is suspected to be wrong")
    assert case["hints"] == []


def test_a_campaign_as_json_adds_up(correlate: Run, tmp_path: Path) -> None:
    """Costs, load cases and components are 1 minus the rating that `correlate score` gives."""
    folder = build(tmp_path)
    found = json.loads(correlate("explain", folder, "--workers", 1, "--top", 2, "--json").out)
    score = json.loads(correlate("score", folder, "--workers", 1, "--json").out)
    overall = score["releases"][0]["training"]["overall"]
    assert found["overall"] == overall
    for part in ("by_load_case", "by_component"):
        assert sum(found[part].values()) == pytest.approx(1 - overall, abs=1e-9)
    assert sum(one["cost"] for one in found["costs"]) == pytest.approx(1 - overall, abs=1e-9)
    assert len(found["channels"]) == 2
    assert found["channels"][0]["suspects"][0]["kind"] == "sign turned"
    assert found["held_out"] == score["releases"][0]["held_out"]["overall"]
    assert found["load_cases"][0]["clusters"][0]["members"][1]["sign"] == -1


@pytest.mark.usefixtures("wide")
def test_what_is_not_rated_is_listed(correlate: Run, tmp_path: Path) -> None:
    """A channel that the model lacks costs nothing here, but is not passed over in silence."""
    file = build(tmp_path) / "B1" / "slow.csv"
    file.write_text(file.read_text().replace("angle [deg]", "bend [deg]"), encoding="utf-8")
    outcome = correlate("explain", tmp_path, "--workers", 1)
    assert "Not rated, and left out of the costs: slow, angle" in outcome.out


@pytest.mark.usefixtures("wide")
def test_a_test_that_cannot_be_read_is_named_under_the_headline(correlate: Run, tmp_path: Path) -> None:
    """Three channels in two load cases, one of them held out: six pairs, as the score says."""
    (build(tmp_path) / "tests" / "R2.csv").write_text("nothing\n", encoding="utf-8")
    lines = correlate("explain", tmp_path, "--workers", 1).out.splitlines()
    assert lines[1] == "Not rated: 6 pairs"
    assert "R2.csv" in lines[2]
    assert lines[2].startswith("  B1 slow, B1 secret: ")
    assert "6 pairs (3 channels, R2)" in " ".join(lines[2:4])
    found = json.loads(correlate("explain", tmp_path, "--workers", 1, "--json").out)
    assert [one["repeat"] for one in found["unrated_pairs"]] == ["R2"] * 6


@pytest.mark.usefixtures("wide")
@pytest.mark.parametrize(
    ("missing", "does", "points"),
    [
        ("apart", "the weights of the others grew", "secret not rated"),
        ("zero", "they count as 0", "secret 0.500"),
    ],
)
def test_a_load_case_without_results_is_no_good_one(
    correlate: Run, tmp_path: Path, missing: str, does: str, points: str
) -> None:
    """Left out, it is not "0.000" lost; counted as 0, it costs its weight. Its file is named."""
    outcome = correlate("explain", second_case_gone(tmp_path, missing=missing), "--workers", 1)
    lines = outcome.out.splitlines()
    assert lines[0].endswith(f"1 of 2 load cases are missing, not rated, and {does}")
    assert any("gone.csv" in line for line in lines[2:3])
    assert points in next(line for line in lines if line.startswith("by load case"))
    assert "secret 0.000" not in outcome.out
    assert "no known pattern" not in outcome.out.split("secret, ")[-1].split("Suspects, ")[0]


def test_a_release_in_small_letters_is_guessed(correlate: Run, tmp_path: Path) -> None:
    """The sentence names the one that is meant."""
    refuses(correlate("explain", build(tmp_path), "--release", "b1"), "perhaps you mean 'B1'")


def test_the_release_may_be_left_out_when_there_is_one(correlate: Run, tmp_path: Path) -> None:
    """With two, they are listed."""
    file = build(tmp_path) / "campaign.toml"
    file.write_text(file.read_text() + '[[release]]\nname = "B2"\nfolder = "B2"\n', encoding="utf-8")
    refuses(correlate("explain", file), "2 releases: B1, B2", "--release")
    refuses(correlate("explain", file, "--release", "B3"), "there is no release 'B3'", "B1, B2")


def test_nothing_rated_is_one_sentence(correlate: Run, tmp_path: Path) -> None:
    """A release without results."""
    build(tmp_path)
    (tmp_path / "B1" / "slow.csv").unlink()
    refuses(
        correlate("explain", tmp_path, "--workers", 1, "--json"),
        "nothing of release 'B1' is rated",
        "correlate score",
    )


def test_arguments_that_do_not_fit_are_refused(
    correlate: Run, pulse_files: tuple[Path, Path], tmp_path: Path
) -> None:
    """Three paths, one data file, options of the other kind, a file that is not there."""
    test, model = pulse_files
    project = build(tmp_path / "project") / "campaign.toml"
    refuses(
        correlate("explain", test, model, test), "3 paths were given", "a test and a model, or one campaign"
    )
    refuses(correlate("explain", test), str(test), "is not a campaign file", "also give the model's file")
    refuses(correlate("explain", test, model, "--release", "B1"), "--release applies to a campaign")
    refuses(correlate("explain", project, "--cfc", 60), "--cfc applies to a pair")
    refuses(correlate("explain", tmp_path / "absent.toml"), "absent.toml", "name a campaign file")
    refuses(correlate("explain", test, model), "'force'", "'deflection'", "--channel")


def test_top_is_at_least_one(correlate: Run, tmp_path: Path) -> None:
    """Click says the range."""
    outcome = correlate("explain", build(tmp_path), "--top", 0)
    assert outcome.code == 2
    assert "0 is not in the range x>=1" in outcome.err


@pytest.mark.usefixtures("wide")
def test_a_delay_as_large_as_the_search_allows_is_marked(
    correlate: Run, pulse_files: tuple[Path, Path]
) -> None:
    """1 ms late, where a fifth of the interval is 0.8 ms: the true delay may be larger."""
    outcome = correlate("explain", *pulse_files, "--channel", "force", "--from", "14", "--to", "18")
    assert outcome.code == 0, outcome.err
    assert "ms late (limit of the search)" in outcome.out.splitlines()[0]
