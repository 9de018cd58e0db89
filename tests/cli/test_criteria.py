"""``correlate criteria``: values of repeats and model, errors, limits, what is left out."""

from __future__ import annotations

import json
import re
from typing import TYPE_CHECKING

import numpy as np
import pytest

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]

DEVICE = ("--device", "adult male")
NAME = ("--name", "compression=-D0CHST0003KMDSXP")


@pytest.fixture
def data(tmp_path: Path) -> list[Path]:
    """Write three repeats of 39, 40 and 41 mm under a code, and a model of 43 mm under a name."""
    time_ms = np.arange(0, 80.05, 0.1)
    pulse = np.sin(np.pi * np.clip((time_ms - 10) / 60, 0, 1)) ** 2
    files = []
    for number, (height, name) in enumerate(
        [(-39, "D0CHST0003KMDSXP"), (-40, "D0CHST0003KMDSXP"), (-41, "D0CHST0003KMDSXP"), (43, "compression")]
    ):
        file = tmp_path / f"run{number}.csv"
        rows = (f"{t:.1f},{height * p:.6f}" for t, p in zip(time_ms, pulse, strict=True))
        file.write_text(f"time [ms],{name} [mm]\n" + "\n".join(rows) + "\n")
        files.append(file)
    return files


def test_tables_show_repeats_model_errors_limits_and_caution(correlate: Run, data: list[Path]) -> None:
    """Each repeat and the model have a column; the error is 3 mm, 7.5 % and 3 deviations."""
    outcome = correlate("criteria", *data[:3], "--candidate", data[3], *NAME, *DEVICE)
    assert outcome.code == 0
    text = " ".join(outcome.out.split())
    for words in (
        "run0 run1 run2 model",
        "39 40 41 43, over the limit",
        "+7.5 %",
        "+3.0",
        "published at most",
        "571.208",
    ):
        assert words in text
    assert "not computed: HIC15; HIC36; severity index;" in text
    assert "over the limit: chest deflection, at most 42 (ECE R94 5.2.1.4, from memory): model" in text
    assert "at most 63" not in text
    assert "do not certify" in text


def test_two_repeats_say_that_they_are_too_few(correlate: Run, data: list[Path]) -> None:
    """No error in deviations is given from two repeats."""
    out = correlate("criteria", *data[:2], "--candidate", data[3], *NAME, *DEVICE).out
    assert "2 of 3 repeats needed for scatter" in out


def test_json_holds_all_values_with_their_steps(correlate: Run, data: list[Path]) -> None:
    """Value, times and steps of every criterion; comparison, limits, caution and version."""
    outcome = correlate("criteria", *data[:3], "--candidate", data[3], *NAME, *DEVICE, "--json")
    found = json.loads(outcome.out)
    assert set(found) == {"device", "repeats", "candidate", "comparison", "limits", "caution", "version"}
    compared = {one["name"]: one for one in found["comparison"]}
    assert compared["chest deflection"]["repeats"] == pytest.approx([39, 40, 41], abs=0.01)
    assert compared["chest deflection"]["error"] == pytest.approx(3, abs=0.01)
    model = {one["name"]: one for one in found["candidate"]["criteria"]}
    assert model["chest deflection"]["start_s"] == pytest.approx(0.04, abs=2e-4)
    steps = [step["step"] for step in model["chest deflection"]["signals"][0]["history"]]
    assert steps[1:] == ["name channel", "turn sign", "filter"]
    assert [limit["at_most"] for limit in model["chest deflection"]["over_the_limit"]] == [42.0]
    assert model["HIC15"]["value"] is None
    assert model["HIC15"]["over_the_limit"] == []
    assert "no channel" in model["HIC15"]["reason"]


def test_without_a_model_names_speak_of_the_reference(correlate: Run, data: list[Path]) -> None:
    """One file alone is shown with its values; the interval limits it."""
    out = correlate("criteria", data[3], *NAME, *DEVICE, "--json").out
    found = json.loads(out)
    assert found["candidate"] is None
    assert found["comparison"] == []
    early = json.loads(correlate("criteria", data[3], *NAME, *DEVICE, "--to", 25, "--json").out)
    values = [
        next(c["value"] for c in one["repeats"][0]["criteria"] if c["name"] == "chest deflection")
        for one in (found, early)
    ]
    assert values[0] == pytest.approx(43, abs=0.01)
    assert values[1] == pytest.approx(43 * np.sin(np.pi / 4) ** 2, abs=0.1)


def test_the_four_cases_of_nij_are_shown(correlate: Run, tmp_path: Path) -> None:
    """Below the criterion each case has its own line, and JSON names the one that governs."""
    time_ms = np.arange(0, 80.05, 0.1)
    pulse = np.sin(np.pi * np.clip((time_ms - 10) / 60, 0, 1)) ** 2
    rows = (f"{t:.1f},0,{1500 * p:.4f},{-40 * p:.5f}" for t, p in zip(time_ms, pulse, strict=True))
    file = tmp_path / "neck.csv"
    heads = "time [ms],D0NECKUP00KMFOXP [N],D0NECKUP00KMFOZP [N],D0NECKUP00KMMOYP [Nm]"
    file.write_text(heads + "\n" + "\n".join(rows) + "\n")
    out = correlate("criteria", file, *DEVICE).out
    assert "tension-extension" in out
    assert "compression-flexion" in out
    (recorded,) = json.loads(correlate("criteria", file, *DEVICE, "--json").out)["repeats"]
    neck = next(one for one in recorded["criteria"] if one["name"] == "Nij")
    assert neck["case"] == "tension-extension"
    assert neck["value"] == pytest.approx(1500 / 6806 + 40 / 135, rel=1e-3)


def test_a_time_dependent_limit_shows_where_it_is_worst(correlate: Run, tmp_path: Path) -> None:
    """A tension of 2 kN for 47.5 ms reaches its limit; below it are level, time and limit."""
    time_ms = np.arange(0, 300.05, 0.1)
    held = 2000.0 * ((time_ms >= 100) & (time_ms <= 147.5))
    rows = (f"{t:.1f},{f:.1f}" for t, f in zip(time_ms, held, strict=True))
    file = tmp_path / "neck.csv"
    file.write_text("time [ms],D0NECKUP00KMFOZP [N]\n" + "\n".join(rows) + "\n")
    out = " ".join(correlate("criteria", file, *DEVICE).out.split())
    for words in ("neck tension, governing level", "neck tension, total time at it", "limit for that time"):
        assert words in out
    assert re.search(r"neck tension, total time at it D0NECKUP00KM ms 4[78]", out)
    (recorded,) = json.loads(correlate("criteria", file, *DEVICE, "--json").out)["repeats"]
    worst = next(one for one in recorded["criteria"] if one["name"] == "neck tension, time-dependent")
    assert worst["value"] == pytest.approx(1.0, abs=0.02)
    assert worst["duration_s"] == pytest.approx(0.0475, abs=0.001)
    assert worst["level"] / worst["limit"] == pytest.approx(worst["value"])


def test_an_unknown_device_is_refused(correlate: Run, data: list[Path]) -> None:
    """The sizes there are, are listed."""
    outcome = correlate("criteria", data[0], "--device", "elephant")
    assert outcome.code == 2
    assert "no device 'elephant'" in outcome.err
    assert "child, 6 years" in outcome.err
