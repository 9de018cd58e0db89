"""``correlate qualify``: table, JSON, names of a model's channels, refusals."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING

import numpy as np
import pytest

from demo_pairs.build import HERE
from demo_pairs.writing import write_record
from tests.demo_pairs.measuring import records

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]

MALE = ("--device", "adult male")
THORAX = (*MALE, "--test", "thorax")


@pytest.fixture
def model(tmp_path: Path) -> Path:
    """Write a model's thorax output: a loop that peaks at 5.3 kN and 66 mm and gives back a quarter."""
    time_ms = np.arange(0, 80.05, 0.1)
    path = 66 * np.sin(np.pi * np.clip(time_ms / 50, 0, 1))
    force = 5.3 * path / 66 * np.where(time_ms <= 25, 1.0, 0.25)
    rows = (f"{t:.1f},{f / 23.4:.7f},{d:.6f}" for t, f, d in zip(time_ms, force, path, strict=True))
    file = tmp_path / "thorax-impact.csv"
    file.write_text(
        "time [ms],probe deceleration [mm/ms^2],sternum compression [mm]\n" + "\n".join(rows) + "\n"
    )
    return file


@pytest.fixture
def head_drops(tmp_path: Path) -> list[Path]:
    """Write two head drops of the demo as test folders."""
    folders = []
    for test in records("head-drop")[:2]:
        folders.append(tmp_path / test.name)
        write_record(test, folders[-1])
    return folders


NAMES = ("--name", "probe deceleration=-00PEND000000ACXP", "--name", "sternum compression=-D0CHST0003KMDSXP")


def test_table_of_two_tests_shows_values_source_and_caution(correlate: Run, head_drops: list[Path]) -> None:
    """A column a test, the window, how many are inside, where the windows come from, the caution."""
    outcome = correlate("qualify", *head_drops, *MALE, "--test", "head drop")
    assert outcome.code == 0
    for words in ("KELPM_HD01", "KELPM_HD02", "225 to 275", "3 of 3", "49 CFR 572.32"):
        assert words in outcome.out
    assert "checked against the published text" in " ".join(outcome.out.split())
    assert "do not certify" in outcome.out


def test_windows_from_memory_are_marked(correlate: Run, tmp_path: Path, head_drops: list[Path]) -> None:
    """A window that was not checked says so."""
    own = tmp_path / "own.toml"
    own.write_text(
        '[[window]]\ndevice = "KELP-M"\ntest = "second head drop"\n'
        'source = "house rule 12"\nchecked = false\n'
        "limits = { head_resultant_peak_g = [40, 400] }\nset_up = { interval_ms = [0, 50] }\n"
    )
    named = ("--device", "KELP-M", "--test", "second head drop", "--windows", own)
    assert "house rule 12, from memory" in correlate("qualify", head_drops[0], *named).out


def test_a_test_of_other_channels_says_what_is_missing(correlate: Run, head_drops: list[Path]) -> None:
    """The quantity is not measurable, and the channels that it needs are named."""
    out = correlate("qualify", head_drops[0], *MALE, "--test", "knee").out
    assert "not measurable, no channel ??PEND??????FOX? or ??PEND??????ACX?" in " ".join(out.split())


def test_json_holds_values_steps_and_caution(correlate: Run, model: Path) -> None:
    """Every quantity with window, value and verdict; the curves with every step; inputs with hash."""
    outcome = correlate("qualify", model, *THORAX, *NAMES, "--impact-velocity", 6.71, "--json")
    found = json.loads(outcome.out)
    assert set(found) == {"device", "test", "source", "checked", "data", "caution", "version"}
    (one,) = found["data"]
    assert one["file"] == str(model)
    assert one["passed"] is True
    by_name = {quantity["name"]: quantity for quantity in one["quantities"]}
    assert by_name["probe_force_peak_N"]["value"] == pytest.approx(5300, rel=0.03)
    assert by_name["sternum_deflection_peak_mm"]["value"] == pytest.approx(66, rel=0.01)
    assert by_name["internal_hysteresis_fraction"]["value"] == pytest.approx(0.75, abs=0.01)
    assert by_name["impact_velocity_m_per_s"]["value"] == 6.71
    force = one["signals"]["probe force"]
    assert len(force["sha256"]) == 64
    steps = [step["step"] for step in force["history"]]
    assert steps[-5:] == ["name channel", "turn sign", "convert unit", "filter", "mass times deceleration"]


def test_outside_is_shown_with_its_distance(correlate: Run, model: Path) -> None:
    """An impact velocity of 7 m/s is 0.17 above its window, and the exit code is 1."""
    outcome = correlate("qualify", model, *THORAX, *NAMES, "--impact-velocity", 7)
    assert outcome.code == 1
    assert "7, 0.17 above" in outcome.out
    assert "3 of 4" in outcome.out


def test_what_cannot_be_measured_is_not_inside(correlate: Run, model: Path) -> None:
    """Without an impact velocity one of four is not measurable, and the exit code is 1; with it, 0."""
    outcome = correlate("qualify", model, *THORAX, *NAMES)
    assert outcome.code == 1
    assert "3 of 4" in outcome.out
    assert correlate("qualify", model, *THORAX, *NAMES, "--impact-velocity", 6.71).code == 0


def test_names_may_come_from_the_campaign_file(correlate: Run, model: Path, tmp_path: Path) -> None:
    """The demo's campaign file maps the same channels; equal columns are told apart by their folder."""
    shutil.copyfile(HERE / "campaign.toml", tmp_path / "campaign.toml")
    file = tmp_path / "A9" / "thorax-impact.csv"
    file.parent.mkdir()
    lines = model.read_text().splitlines()
    head = f"{lines[0]},upper spine acceleration [mm/ms^2]"
    file.write_text("\n".join([head, *(f"{line},0.0" for line in lines[1:])]) + "\n")
    options = ("--campaign", tmp_path / "campaign.toml", "--load-case", "thorax-impact")
    by_campaign = json.loads(correlate("qualify", file, *THORAX, *options, "--json").out)
    by_name = json.loads(correlate("qualify", file, *THORAX, *NAMES, "--json").out)
    assert by_campaign["data"][0]["quantities"] == by_name["data"][0]["quantities"]


def test_users_windows_are_found(correlate: Run, model: Path, tmp_path: Path) -> None:
    """A file of one's own adds a test, also to the list."""
    own = tmp_path / "own.toml"
    own.write_text(
        '[[window]]\ndevice = "KELP-M"\ntest = "push"\nsource = "house rule"\nchecked = false\n'
        "limits = { sternum_deflection_peak_mm = [60, 70] }\n"
    )
    out = correlate("qualify", model, "--device", "KELP", "--test", "push", "--windows", own, *NAMES).out
    assert "1 of 1" in out
    assert "house rule, from memory" in out
    assert "house rule" in correlate("qualify", "--list", "--windows", own).out


def test_list_names_devices_tests_and_sources(correlate: Run) -> None:
    """The list needs no data and carries the caution."""
    outcome = correlate("qualify", "--list")
    assert outcome.code == 0
    assert "adult female, 5th" in outcome.out
    assert "do not certify" in outcome.out


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("--device", "adult male"), ("--test", "--list")),
        ((*MALE, "--test", "pelvis"), ("no test 'pelvis'", "head drop")),
        ((*THORAX, "--name", "probe deceleration"), ("is not NAME=CODE",)),
        ((*THORAX, "--name", "probe deceleration=PROBE"), ("'PROBE' is not a channel code",)),
        ((*THORAX, "--name", "probe=00PEND000000ACXP"), ("no channel 'probe'", "probe deceleration")),
        ((*THORAX, "--load-case", "thorax-impact"), ("--campaign and --load-case belong together",)),
        ((*THORAX, "--windows", "absent.toml"), ("absent.toml", "cannot be read")),
    ],
)
def test_what_cannot_be_used_is_refused_in_words(
    correlate: Run, model: Path, arguments: tuple[str, ...], words: tuple[str, ...]
) -> None:
    """Exit code 2, no traceback, the words that help."""
    outcome = correlate("qualify", model, *arguments)
    assert outcome.code == 2
    assert outcome.out == ""
    assert "Traceback" not in outcome.err
    for word in words:
        assert word in outcome.err
