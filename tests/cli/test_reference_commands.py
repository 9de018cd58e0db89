"""``correlate check``, ``repair``, ``repeats`` and ``ceiling``: what they print, write and refuse."""

from __future__ import annotations

import json
import tomllib
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import read
from tests.reference.folders import CODE, write_pulse

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]


@pytest.fixture
def laboratory(tmp_path: Path) -> Path:
    """Write four repeats of one load case."""
    folder = tmp_path / "laboratory"
    for number, size in enumerate((900, 915, 880, 905), start=1):
        write_pulse(folder / "drop", f"T{number}", number, size=size)
    return folder


@pytest.fixture
def turned(laboratory: Path) -> Path:
    """Turn the sign of the fourth repeat."""
    path = laboratory / "drop" / "T4" / "Channel" / "T4.001"
    lines = path.read_text().splitlines()
    path.write_text("\n".join(f"{-float(line)!r}" if ":" not in line else line for line in lines) + "\n")
    return laboratory


def test_clean_data_pass(correlate: Run, laboratory: Path) -> None:
    """Exit code 0, a count and a caution."""
    outcome = correlate("check", laboratory)
    assert outcome.code == 0
    assert "4 tests, 4 channels: 0 errors, 0 warnings, 0 notes" in outcome.out
    assert "data without a finding may still be" in " ".join(outcome.out.split())


def test_a_turned_sign_is_reported_and_changes_nothing(correlate: Run, turned: Path) -> None:
    """Exit code 1, severity, kind, test, channel and remedy; the files stay as they are."""
    before = {path: path.read_bytes() for path in turned.rglob("*") if path.is_file()}
    outcome = correlate("check", turned)
    assert outcome.code == 1
    for words in ("error  polarity  T4  Head acceleration X", "accept the inverted sign", "turn sign"):
        assert words in outcome.out
    assert {path: path.read_bytes() for path in turned.rglob("*") if path.is_file()} == before


def test_json_holds_evidence_and_figures(correlate: Run, turned: Path) -> None:
    """One object with findings, their numbers and spans, and the figures and hash of every channel."""
    found = json.loads(correlate("check", turned, "--json").out)
    (finding,) = (item for item in found["findings"] if item["severity"] == "error")
    assert finding["kind"] == "polarity"
    assert finding["repair"] == {"name": "turn sign", "settings": {}}
    assert finding["evidence"]["correlation"] < -0.99
    assert finding["start_s"] == pytest.approx(0.02, abs=0.002)
    assert len(found["channels"]) == 4
    assert len(found["channels"][0]["sha256"]) == 64
    assert found["load_cases"]["drop"][0].endswith("T1")


def test_only_the_named_data_are_reported(correlate: Run, turned: Path) -> None:
    """With --against, other repeats serve as a yardstick; a test of the same name is left out and named."""
    one = turned / "drop" / "T1"
    outcome = correlate("check", one, "--against", turned)
    assert outcome.code == 0
    assert "1 test, 1 channel" in outcome.out
    assert "it is the same test" in outcome.err
    assert correlate("check", turned / "drop" / "T4", "--against", turned).code == 1


def test_expectations_are_read(correlate: Run, laboratory: Path, tmp_path: Path) -> None:
    """A sign that all repeats share is found by the expectation."""
    expect = tmp_path / "expect.toml"
    expect.write_text(
        f'[[load_case]]\nname = "drop"\n[[load_case.channel]]\nchannel = "{CODE}"\nmain_peak = "negative"\n',
        encoding="utf-8",
    )
    outcome = correlate("check", laboratory, "--expect", expect)
    assert outcome.code == 1
    assert outcome.out.count("should be negative") == 4


def test_the_page_shows_every_finding(correlate: Run, turned: Path, tmp_path: Path) -> None:
    """A picture with the span, the evidence, and no text that could act as markup."""
    page = tmp_path / "check.html"
    correlate("check", turned, "--html", page)
    text = page.read_text(encoding="utf-8")
    assert text.rstrip().endswith("</html>")
    assert "the sign is opposite to that of the other repeats" in text
    assert "showSendToCloud" in text
    assert "Effective bits" in text


def test_a_repair_needs_a_name_and_leaves_a_trace(correlate: Run, turned: Path, tmp_path: Path) -> None:
    """Proposed, refused without a name, accepted, written beside, clean when checked again."""
    proposals, fixed = tmp_path / "repairs.toml", tmp_path / "fixed"
    correlate("check", turned, "--repairs", proposals)
    (entry,) = (
        item
        for item in tomllib.loads(proposals.read_text(encoding="utf-8"))["repair"]
        if item["repair"] == "turn sign"
    )
    assert entry["accepted_by"] == ""
    outcome = correlate("repair", proposals, "--out", fixed)
    assert outcome.code == 2
    assert "no repair is accepted" in outcome.err
    assert not fixed.exists()
    text = proposals.read_text(encoding="utf-8").replace('accepted_by = ""', 'accepted_by = "lab"')
    proposals.write_text(text, encoding="utf-8")
    outcome = correlate("repair", proposals, "--out", fixed)
    assert outcome.code == 0
    assert f"{CODE}: repair: turn sign; accepted by lab" in outcome.out
    again = read(fixed / "T4")
    assert again.channel_headers[CODE]["Comment"] == "repair: turn sign; accepted by lab"
    assert float(again.channel(CODE).samples.max()) == pytest.approx(905, rel=0.01)
    assert correlate("check", fixed, "--against", turned).code == 0


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("[[repair]", "is not valid TOML"),
        ('[[repair]]\ntest = "T1"', "repair 1 has no accepted_by, channel, repair"),
        (
            '[[repair]]\ntest = "T9"\nchannel = "c"\nrepair = "turn sign"\naccepted_by = "lab"',
            "there is no such file",
        ),
    ],
)
def test_files_of_repairs_that_cannot_be_used(
    correlate: Run, tmp_path: Path, text: str, message: str
) -> None:
    """Broken TOML, missing keys, a test that is not there: one sentence, code 2."""
    path = tmp_path / "repairs.toml"
    path.write_text(text, encoding="utf-8")
    outcome = correlate("repair", path, "--out", tmp_path / "fixed")
    assert outcome.code == 2
    assert message in outcome.err
    assert len(outcome.err.strip().splitlines()) == 1


def test_repeats_show_shifts_scatter_and_ceiling(correlate: Run, laboratory: Path, tmp_path: Path) -> None:
    """The table, the object and the page tell the same story."""
    page = tmp_path / "repeats.html"
    options = ("--from", 0, "--to", 50, "--offset", -30, -5)
    outcome = correlate("repeats", laboratory, *options, "--html", page)
    assert outcome.code == 0
    for words in ("Head acceleration X", "ceiling", "mean ± 1 SD", "does not certify"):
        assert words in outcome.out
    found = json.loads(correlate("repeats", laboratory, *options, "--json").out)
    (channel,) = found["channels"]
    assert len(channel["ceiling"]["ratings"]) == 4
    assert channel["ceiling"]["lowest"] <= channel["ceiling"]["median"] <= channel["ceiling"]["highest"] <= 1
    assert channel["model"] is None
    assert f"{channel['ceiling']['median']:.3f}" in outcome.out
    assert f"{channel['ceiling']['median']:.3f}" in page.read_text(encoding="utf-8")


def test_a_model_stands_beside_its_ceiling(correlate: Run, laboratory: Path) -> None:
    """A repeat taken for a model lies inside the corridor for the most part, near the ceiling."""
    model = laboratory / "drop" / "T1"
    repeats = [laboratory / "drop" / f"T{number}" for number in (2, 3, 4)]
    arguments = ("repeats", *repeats, "--model", model, "--channel", CODE, "--from", 0, "--to", 50)
    found = json.loads(correlate(*arguments, "--times", 2, "--json").out)["channels"][0]
    assert found["share_inside"] > 0.5
    assert found["model"]["share_of_ceiling"] == pytest.approx(1, abs=0.05)
    low, high = found["model"]["interval"]["low"], found["model"]["interval"]["high"]
    assert low <= found["model"]["mean"] <= high
    assert "of ceiling" in correlate(*arguments).out


def test_two_repeats_say_so(correlate: Run, laboratory: Path) -> None:
    """No number stands where there is none."""
    two = [laboratory / "drop" / name for name in ("T1", "T2")]
    outcome = correlate("repeats", *two, "--model", laboratory / "drop" / "T3", "--channel", CODE)
    assert outcome.code == 0
    assert outcome.out.count("too few") == 3


def test_a_test_that_cannot_be_read_does_not_stop_the_others(correlate: Run, turned: Path) -> None:
    """It is an error of its own with file and remedy; the others are checked; exit code 1."""
    (turned / "drop" / "T2" / "Channel" / "T2.chn").unlink()
    (turned / "drop" / "words.csv").write_text("these are\nno numbers\n")
    outcome = correlate("check", turned, "--json")
    assert outcome.code == 1
    found = json.loads(outcome.out)
    unread = {one["file"].rsplit("/", 1)[1]: one for one in found["findings"] if one["kind"] == "set aside"}
    assert set(unread) == {"T2", "words.csv"}
    for one in unread.values():
        assert one["severity"] == "error"
        assert one["what"].startswith("the test cannot be read: ")
        assert one["remedy"]
    assert [one["kind"] for one in found["findings"] if one["file"].endswith("T4")] == ["polarity"]
    assert len(found["channels"]) == 3
    assert correlate("check", turned, "--html", turned / "check.html").code == 1


def test_a_further_repeat_that_cannot_be_read_is_named(correlate: Run, laboratory: Path) -> None:
    """The tests are checked without it."""
    (laboratory / "drop" / "T2" / "Channel" / "T2.chn").unlink()
    outcome = correlate("check", laboratory / "drop" / "T1", "--against", laboratory)
    assert outcome.code == 0
    assert "skipped, because the test cannot be read: " in outcome.err


def test_paths_without_tests(correlate: Run, laboratory: Path, tmp_path: Path) -> None:
    """An empty folder and a missing path are named."""
    (tmp_path / "empty").mkdir()
    outcome = correlate("check", tmp_path / "empty")
    assert outcome.code == 2
    assert "there is no test in this folder" in outcome.err
    outcome = correlate("check", laboratory / "absent")
    assert outcome.code == 2
    assert "absent: there is no such file" in outcome.err


def test_repeats_that_share_nothing(correlate: Run, laboratory: Path, pulse_files: tuple[Path, Path]) -> None:
    """A force and a head acceleration are no repeats."""
    outcome = correlate("repeats", laboratory / "drop" / "T1", pulse_files[0])
    assert outcome.code == 2
    assert "2 tests: the repeats share no channel" in outcome.err


CAMPAIGN = f"""
[campaign]
title = "drops"

[[load_case]]
name = "drop"
tests = ["laboratory/drop/*"]
interval_ms = [0, 50]

[[load_case.channel]]
test = "{CODE}"
model = "{CODE}"
region = "head"
test_offset_ms = [-30, -5]

[[release]]
name = "A1"
folder = "A1"
"""


def test_ceilings_of_a_campaign(correlate: Run, laboratory: Path) -> None:
    """Channels of the file with filter, interval and offset; releases beside them when named."""
    folder = laboratory.parent
    (folder / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    (folder / "A1").mkdir()
    curve = read(laboratory / "drop" / "T1").channel(CODE)
    rows = zip(curve.time_s.tolist(), curve.samples.tolist(), strict=True)
    text = "\n".join(f"{1e3 * time:.1f},{0.8 * value:.4f}" for time, value in rows)
    (folder / "A1" / "drop.csv").write_text(f"time [ms],{CODE} [m/s^2]\n{text}\n", encoding="utf-8")
    alone = json.loads(correlate("ceiling", folder, "--json").out)["channels"]
    assert [item["load_case"] for item in alone] == ["drop"]
    assert alone[0]["model"] is None
    found = json.loads(correlate("ceiling", folder, "--release", "A1", "--json").out)["channels"][0]
    assert found["release"] == "A1"
    assert found["ceiling"] == alone[0]["ceiling"]
    assert found["model"]["share_of_ceiling"] < 0.95
    outcome = correlate("ceiling", folder, "--release", "A9")
    assert outcome.code == 2
    assert "there is no release 'A9'" in outcome.err


INSIDE = ("--channel", CODE, "--from", 0, "--to", 50)


def test_kinds_of_corridor(correlate: Run, laboratory: Path) -> None:
    """Each kind is named in the table; the wider hold more of a model."""
    model = ("--model", laboratory / "drop" / "T1")
    shares = []
    for corridor, kind in (
        ("sd", "mean ± 1 SD"),
        ("instant", "95% of further tests, at each instant"),
        ("whole", "95% of further tests, whole curve"),
    ):
        outcome = correlate("repeats", laboratory, *INSIDE, *model, "--corridor", corridor, "--json")
        (channel,) = json.loads(outcome.out)["channels"]
        assert channel["compared_with"] == kind
        shares.append(channel["share_inside"])
    assert shares == sorted(shares)
    assert "least to largest" in correlate("repeats", laboratory, "--corridor", "range").out
    two = [laboratory / "drop" / name for name in ("T1", "T2")]
    outcome = correlate("repeats", *two, "--corridor", "whole")
    assert outcome.code == 2
    assert "needs 3 repeats or more" in outcome.err


def test_the_table_says_what_its_scatter_is(correlate: Run, laboratory: Path) -> None:
    """The largest SD with its share of the peak, and the class of the coefficient of variation."""
    outcome = correlate("repeats", laboratory, *INSIDE)
    words = " ".join(outcome.out.split())
    for heading in ("largest SD", "of the peak", "CV of the peak", "excellent"):
        assert heading in words
    (channel,) = json.loads(correlate("repeats", laboratory, *INSIDE, "--json").out)["channels"]
    assert channel["variation_class"] == "excellent"
    assert f"{100 * channel['largest_standard_deviation_over_peak']:.1f} %" in words


def test_an_unlike_repeat_is_named(correlate: Run, tmp_path: Path) -> None:
    """One of six is twice as large; the others are not named."""
    folder = tmp_path / "laboratory" / "drop"
    for number, size in enumerate((900, 905, 895, 902, 1800, 898), start=1):
        write_pulse(folder, f"T{number}", number, size=size)
    outcome = correlate("repeats", folder, *INSIDE)
    assert "unlike the other repeats: 5 (p < 0.001)" in " ".join(outcome.out.split())


def test_curves_are_written(correlate: Run, laboratory: Path, tmp_path: Path) -> None:
    """The table of curves and the object hold the same numbers; hashes and moved features are with them."""
    file = tmp_path / "curves.csv"
    outcome = correlate("repeats", laboratory, *INSIDE, "--features", 2, "--csv", file, "--json")
    (channel,) = json.loads(outcome.out)["channels"]
    lines = file.read_text(encoding="utf-8").splitlines()
    comments = [line for line in lines if line.startswith("#")]
    rows = [line.split(",") for line in lines[len(comments) + 1 :]]
    assert [float(row[2]) for row in rows] == pytest.approx(channel["curves"]["mean"], rel=1e-8, abs=1e-8)
    assert len(channel["curves"]["repeat 4"]) == len(rows)
    assert all(any(one["sha256"] in line for line in comments) for one in channel["origins"])
    assert channel["landmarks"]
    assert any("peak brought to" in line for line in comments)


def test_a_half_width_that_nothing_uses_is_refused(correlate: Run, laboratory: Path) -> None:
    """A band for further tests and the range of the repeats have no half width in standard deviations."""
    outcome = correlate("repeats", laboratory, "--corridor", "range", "--times", 2)
    assert outcome.code == 2
    assert "--times has no meaning for the corridor 'range'" in outcome.err


def test_a_published_corridor(correlate: Run, laboratory: Path, tmp_path: Path) -> None:
    """Model and repeats are compared with it in table, object and page."""
    band, page = tmp_path / "band.csv", tmp_path / "repeats.html"
    points = "lower,-10,-50\nlower,60,-50\nupper,-10,5000\nupper,60,5000\n"
    header = "# title: invented band\n# source: none\n# unit: m/s^2\nedge,time_ms,value\n"
    band.write_text(header + points, encoding="utf-8")
    model = ("--model", laboratory / "drop" / "T1")
    arguments = ("repeats", laboratory, *INSIDE, *model, "--published", band)
    outcome = correlate(*arguments, "--html", page)
    assert "repeats inside invented band: 100%, 100%, 100%, 100%" in " ".join(outcome.out.split())
    assert "published: none" in outcome.out
    (channel,) = json.loads(correlate(*arguments, "--json").out)["channels"]
    assert (channel["share_inside"], channel["repeats_inside"]) == (1.0, [1.0] * 4)
    assert "invented band" in page.read_text(encoding="utf-8")
    band.write_text(header.replace("unit", "channel: other\n# unit") + points, encoding="utf-8")
    outcome = correlate(*arguments)
    assert outcome.code == 2
    assert "for channel 'other', which is not shown" in outcome.err


def test_one_channel_over_another(correlate: Run, tmp_path: Path) -> None:
    """A model whose y is 10 % larger lies to the left of the mean path, by up to a tenth of an axis."""
    angle = np.linspace(0, np.pi, 401)
    for number, size in enumerate((0.98, 1.0, 1.03, 1.1), start=1):
        rows = zip(np.arange(401) * 0.1, 50 - 50 * np.cos(angle), size * 3 * np.sin(angle), strict=True)
        text = "\n".join(",".join(f"{value:.9g}" for value in row) for row in rows)
        (tmp_path / f"T{number}.csv").write_text(
            f"time [ms],chest [mm],force [kN]\n{text}\n", encoding="utf-8"
        )
    tests, model = [tmp_path / f"T{number}.csv" for number in (1, 2, 3)], tmp_path / "T4.csv"
    page = tmp_path / "page.html"
    arguments = ("repeats", *tests, "--model", model, "--channel", "force", "--over", "chest")
    outcome = correlate(*arguments, "--html", page)
    assert outcome.code == 0, outcome.err
    words = " ".join(outcome.out.split())
    assert "force over chest" in words.lower()
    assert "to its left" in words
    assert "force over chest" in page.read_text(encoding="utf-8").lower()
    (found,) = json.loads(correlate(*arguments, "--json").out)["cross_plots"]
    assert 0 <= found["share_inside"] < 0.5
    # 1.10 against 1.00 of the largest value, at most, where the path runs along x.
    assert found["deviation"]["largest"] == pytest.approx(0.1, abs=0.015)
    assert 0 < found["deviation"]["mean"] < 0.1
    alone = json.loads(correlate(*arguments[:4], "--over", "chest", "--json").out)["cross_plots"]
    assert [one["deviation"] for one in alone] == [None]
