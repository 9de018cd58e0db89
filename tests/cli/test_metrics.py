"""``correlate pair --metric``: further measures in table and JSON, repeats for those that need them."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate import METRICS

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]

FORCE = ("--channel", "force")


def test_named_measures_stand_in_json_and_table(correlate: Run, pulse_files: tuple[Path, Path]) -> None:
    """The numbers are those of the two columns; the rating stays as it is without them."""
    plain = json.loads(correlate("pair", *pulse_files, *FORCE, "--json").out)
    options = (*FORCE, "--metric", "sprague-geers", "--metric", "Theil")
    found = json.loads(correlate("pair", *pulse_files, *options, "--json").out)
    test, model = (np.loadtxt(file, delimiter=",", skiprows=1)[:, 1] for file in pulse_files)
    magnitude = np.sqrt(((1e-3 * model) ** 2).sum() / (test**2).sum()) - 1
    assert list(found["also"]) == ["sprague-geers", "theil"]
    assert found["also"]["sprague-geers"]["parts"]["magnitude"] == pytest.approx(magnitude, abs=1e-9)
    assert found["also"]["theil"]["higher_is_better"] is False
    assert plain["also"] == {}
    assert {**found, "also": {}} == plain
    out = correlate("pair", *pulse_files, *options).out
    assert "sprague-geers" in out
    assert "magnitude -0.100" in out
    assert "does not certify" in out


def test_all_measures_and_what_one_lacks(correlate: Run, pulse_files: tuple[Path, Path]) -> None:
    """Every measure of the table is listed; the one that needs repeats says so and stops none."""
    found = json.loads(correlate("pair", *pulse_files, *FORCE, "--metric", "all", "--json").out)["also"]
    assert list(found) == list(METRICS)
    assert found["confidence-interval"]["value"] is None
    assert "too few for a confidence interval" in found["confidence-interval"]["reason"]
    assert found["iso18571"]["value"] is not None


def test_repeats_reach_the_measures_that_need_them(
    correlate: Run, pulse_files: tuple[Path, Path], tmp_path: Path
) -> None:
    """Two further repeats make three; they are cut to the interval of the pair."""
    test, model = pulse_files
    others = []
    for number, factor in enumerate((0.95, 1.05)):
        rows = [line.split(",") for line in test.read_text().splitlines()]
        other = tmp_path / f"repeat{number}.csv"
        other.write_text(
            "\n".join([",".join(rows[0]), *(f"{t},{factor * float(f):.6f},{d}" for t, f, d in rows[1:])])
            + "\n"
        )
        others += ["--repeat", other]
    options = (*FORCE, *others, "--from", 5, "--to", 55, "--metric", "confidence-interval", "--json")
    found = json.loads(correlate("pair", test, model, *options).out)
    parts = found["also"]["confidence-interval"]["parts"]
    assert parts["repeats"] == 3
    assert parts["average_half_width"] == pytest.approx(2.920 * 0.05 / np.sqrt(3), rel=1e-3)
    assert found["samples"] == 501


def test_a_misspelt_measure_and_an_absent_repeat_are_refused(
    correlate: Run, pulse_files: tuple[Path, Path]
) -> None:
    """The measure is suggested, the file is named; nothing is printed as if it were done."""
    outcome = correlate("pair", *pulse_files, *FORCE, "--metric", "russel")
    assert (outcome.code, outcome.out) == (2, "")
    assert "perhaps you mean 'russell'" in outcome.err
    outcome = correlate("pair", *pulse_files, *FORCE, "--metric", "area", "--repeat", "absent.csv")
    assert (outcome.code, outcome.out) == (2, "")
    assert "absent.csv" in outcome.err


def test_the_old_name_of_the_option_still_works(correlate: Run, pulse_files: tuple[Path, Path]) -> None:
    """``--also`` prints what ``--metric`` prints, and the help does not show it."""
    options = ("--json", "--metric", "theil")
    new = correlate("pair", *pulse_files, *FORCE, *options)
    old = correlate("pair", *pulse_files, *FORCE, *(word.replace("--metric", "--also") for word in options))
    assert (old.code, json.loads(old.out)["also"]) == (0, json.loads(new.out)["also"])
    assert "--also" not in correlate("pair", "--help").out
