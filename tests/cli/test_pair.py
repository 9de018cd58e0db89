"""``correlate pair``: what it prints, what it writes, what it refuses."""

from __future__ import annotations

import hashlib
import json
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.version import VERSION
from tests.oracles import iso18571_literal as literal

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]

KEYS = {
    "overall",
    "grade",
    "corridor",
    "phase",
    "magnitude",
    "slope",
    "shift_s",
    "samples",
    "settings",
    "inputs",
    "version",
}


def test_json_holds_the_rating_and_all_it_takes_to_reproduce_it(
    correlate: Run, pulse_files: tuple[Path, Path]
) -> None:
    """One object: scores, settings, both inputs with hash, unit and history, and the version."""
    test, model = pulse_files
    outcome = correlate("pair", test, model, "--channel", "force", "--from", 0, "--to", 60, "--json")
    found = json.loads(outcome.out)
    assert outcome.code == 0
    assert set(found) >= KEYS
    assert found["version"] == VERSION
    assert found["samples"] == 601
    assert found["shift_s"] == pytest.approx(0.001)
    assert found["inputs"]["reference"]["sha256"] == hashlib.sha256(test.read_bytes()).hexdigest()
    candidate = found["inputs"]["candidate"]
    assert candidate["file"] == str(model)
    assert candidate["unit"] == "kN"
    assert [step["step"] for step in candidate["history"]][:2] == ["read", "convert unit"]


def test_the_rating_is_that_of_the_two_columns(correlate: Run, pulse_files: tuple[Path, Path]) -> None:
    """Reading the columns by hand and rating them literally gives the same number."""
    test, model = pulse_files
    found = json.loads(correlate("pair", test, model, "--channel", "force", "--json").out)
    by_hand = np.loadtxt(test, delimiter=",", skiprows=1)
    other = np.loadtxt(model, delimiter=",", skiprows=1)
    expected = literal.rating(by_hand[:, 1].tolist(), (other[:, 1] * 1e-3).tolist(), 1e-4)
    for name in ("overall", "corridor", "phase", "magnitude", "slope"):
        assert found[name] == pytest.approx(expected[name], abs=1e-9)


def test_terminal_shows_scores_grade_sketch_and_caution(
    correlate: Run, pulse_files: tuple[Path, Path]
) -> None:
    """The table names the components, the delay in words, the grade; a sketch and a caution follow."""
    outcome = correlate("pair", *pulse_files, "--channel", "force", "--cfc", 180)
    assert outcome.code == 0
    for words in ("corridor", "phase", "magnitude", "slope", "overall", "model 1 ms late", "CFC 180"):
        assert words in outcome.out
    assert "line: test   x: model" in outcome.out
    assert "does not certify" in outcome.out
    assert any(grade in outcome.out for grade in ("excellent", "good", "fair", "poor"))


def test_html_page_is_written_whole(correlate: Run, pulse_files: tuple[Path, Path], tmp_path: Path) -> None:
    """The page holds the rating; nothing else is left in the folder."""
    before = set(tmp_path.iterdir())
    page = tmp_path / "page.html"
    outcome = correlate("pair", *pulse_files, "--channel", "force", "--html", page)
    assert outcome.code == 0
    assert page.read_text(encoding="utf-8").rstrip().endswith("</html>")
    assert set(tmp_path.iterdir()) - before == {page}


def test_turning_the_sign_is_recorded(correlate: Run, pulse_files: tuple[Path, Path]) -> None:
    """The sign turn stands in the history of the model."""
    outcome = correlate("pair", *pulse_files, "--channel", "force", "--turn-sign", "--json")
    steps = [step["step"] for step in json.loads(outcome.out)["inputs"]["candidate"]["history"]]
    assert "turn sign" in steps


def refuses(outcome: Outcome, *words: str) -> None:
    """Check that a run ended with code 2, one line and these words, and no traceback."""
    assert outcome.code == 2
    assert outcome.out == ""
    assert len(outcome.err.strip().splitlines()) == 1, outcome.err
    for word in words:
        assert word in outcome.err
    assert "Traceback" not in outcome.err


def test_several_channels_without_a_name_are_listed(correlate: Run, pulse_files: tuple[Path, Path]) -> None:
    """A file of two channels needs a name, and the error lists both."""
    test, model = pulse_files
    refuses(correlate("pair", test, model), str(test), "'force'", "'deflection'", "--channel")
    refuses(correlate("pair", model, test), str(test), "'force'", "'deflection'", "--candidate-channel")


def test_a_missing_channel_is_named_with_what_there_is(
    correlate: Run, pulse_files: tuple[Path, Path]
) -> None:
    """A misspelt channel is refused with the closest name."""
    test, model = pulse_files
    refuses(correlate("pair", test, model, "--channel", "forces"), str(test), "forces", "'force'")


def test_a_missing_file_and_a_folder_that_is_no_test(
    correlate: Run, pulse_files: tuple[Path, Path], tmp_path: Path
) -> None:
    """What is not there and what is no test are refused by name."""
    test, _ = pulse_files
    refuses(correlate("pair", test, tmp_path / "absent.csv", "--channel", "force"), "absent.csv")
    folder = tmp_path / "holiday"
    folder.mkdir()
    refuses(correlate("pair", test, folder, "--channel", "force"), "holiday")


def test_units_that_cannot_be_converted(correlate: Run, pulse_files: tuple[Path, Path]) -> None:
    """A deflection cannot be rated against a force."""
    refuses(correlate("pair", *pulse_files, "--channel", "deflection"), "mm", "N", "cannot be converted")


def test_no_common_time(correlate: Run, pulse_files: tuple[Path, Path], tmp_path: Path) -> None:
    """Two records that do not overlap are refused, both named."""
    late = tmp_path / "late.csv"
    rows = "\n".join(f"{t},{t % 7}" for t in range(1000, 1100))
    late.write_text(f"time [ms],force [kN]\n{rows}\n")
    refuses(correlate("pair", pulse_files[0], late, "--channel", "force"), "test.csv", "late.csv")


def test_a_flat_reference(correlate: Run, tmp_path: Path, pulse_files: tuple[Path, Path]) -> None:
    """A reference of zeros is refused."""
    flat = tmp_path / "flat.csv"
    flat.write_text("time [ms],force [kN]\n" + "\n".join(f"{t / 10},0" for t in range(601)) + "\n")
    refuses(correlate("pair", flat, pulse_files[1]), "zero throughout")


def test_ten_samples(correlate: Run, tmp_path: Path) -> None:
    """Ten samples are too few to rate."""
    short = tmp_path / "short.csv"
    short.write_text("time [ms],force [kN]\n" + "\n".join(f"{t / 10},{t}" for t in range(10)) + "\n")
    refuses(correlate("pair", short, short), "10", "20")


def test_a_sample_rate_under_the_limit_of_the_filter(
    correlate: Run, tmp_path: Path, pulse_files: tuple[Path, Path]
) -> None:
    """A 1 kHz record cannot be filtered with CFC 1000."""
    slow = tmp_path / "slow.csv"
    slow.write_text("time [ms],force [kN]\n" + "\n".join(f"{t},{t % 9}" for t in range(100)) + "\n")
    outcome = correlate("pair", slow, pulse_files[1], "--cfc", 1000)
    refuses(outcome, "slow.csv", "force", "1000", "10")


def test_an_unknown_frequency_class(correlate: Run, pulse_files: tuple[Path, Path]) -> None:
    """Only the published classes filter."""
    refuses(correlate("pair", *pulse_files, "--channel", "force", "--cfc", 500), "500", "180")


def test_a_page_that_cannot_be_written(
    correlate: Run, pulse_files: tuple[Path, Path], tmp_path: Path
) -> None:
    """A folder that does not exist is named, and nothing is printed as if it were done."""
    page = tmp_path / "absent" / "page.html"
    refuses(correlate("pair", *pulse_files, "--channel", "force", "--html", page), str(page))
