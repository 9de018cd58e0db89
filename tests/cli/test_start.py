"""``correlate start``: one command from raw files to the first rating."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click
import pytest

from tests.campaign.conftest import half_sine, write_columns
from tests.campaign.test_first_file import noisy

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]


@pytest.fixture
def raw(tmp_path: Path) -> Path:
    """Write a test, and a result without units."""
    curve = half_sine(6, 20.0)
    write_columns(tmp_path / "lab" / "push" / "R1.csv", {"D0HEAD0000KMACXP [g]": noisy(curve, 1)})
    write_columns(tmp_path / "runs" / "B1" / "push.csv", {"head acc x": half_sine(6.2, 0.19)})
    file = tmp_path / "runs" / "B1" / "push.csv"
    file.write_text(file.read_text(encoding="utf-8").replace("time [ms]", "time"), encoding="utf-8")
    return tmp_path


def test_the_first_rating_follows_from_one_command(correlate: Run, raw: Path) -> None:
    """What was assumed is printed with the options that change it; file and layout are written."""
    outcome = correlate("start", raw, "--workers", 1)
    assert outcome.code == 0, outcome.err
    assert "load case push: repeats by folders: 1; results of B1" in outcome.out
    assert "--tests, --results, --load-case NAME=PATTERN and --units" in outcome.out
    assert "1 of 1 pairs could be rated" in outcome.out
    assert (raw / "layouts" / "push.toml").exists()
    assert "1 known already" in correlate("score", raw, "--workers", 1).out


def test_a_release_that_lacks_ratings_says_so_under_its_number(correlate: Run, raw: Path) -> None:
    """Its overall rating comes from the rest, and may be the better one."""
    first = raw / "runs" / "B1" / "push.csv"
    text = first.read_text(encoding="utf-8")
    (raw / "runs" / "B2").mkdir()
    (raw / "runs" / "B2" / "push.csv").write_text(text[: len(text) // 2], encoding="utf-8")
    first.write_text(f"{text}normal end\n", encoding="utf-8")
    outcome = correlate("start", raw, "--workers", 1)
    assert "B2 is incomplete: 1 of its pairs could not be rated." in outcome.out


def test_without_rating_only_the_file_is_written(correlate: Run, raw: Path) -> None:
    """The next command is named."""
    outcome = correlate("start", raw, "--no-score", "--units", "mm-ms-kg")
    assert f"Next: correlate score {raw}" in outcome.out
    assert not (raw / "ratings.sqlite").exists()
    assert "units mm-ms-kg" in (raw / "campaign.toml").read_text(encoding="utf-8")


def test_files_that_are_there_are_never_overwritten(correlate: Run, raw: Path) -> None:
    """Neither the campaign nor a layout; nothing is half-written."""
    (raw / "layouts").mkdir()
    (raw / "layouts" / "push.toml").write_text("# mine\n", encoding="utf-8")
    outcome = correlate("start", raw)
    assert outcome.code == 2
    assert "push.toml: already exists" in outcome.err
    assert not (raw / "campaign.toml").exists()
    (raw / "campaign.toml").write_text("# mine\n", encoding="utf-8")
    assert "campaign.toml: already exists" in correlate("start", raw).err
    assert (raw / "campaign.toml").read_text(encoding="utf-8") == "# mine\n"


def test_a_load_case_without_a_pattern_is_refused(correlate: Run, raw: Path) -> None:
    """One sentence with an example."""
    outcome = correlate("start", raw, "--load-case", "push")
    assert outcome.code == 2
    assert "--load-case 'push' is not NAME=PATTERN" in outcome.err


def test_in_a_terminal_the_proposals_are_asked(
    correlate: Run, raw: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Three questions with what was found as the answer; another answer is used."""
    asked: list[str] = []

    def prompt(words: str, *, default: str, err: bool) -> Any:
        assert err
        asked.append(f"{words}: {default}")
        return "lab/**/*.csv" if words.startswith("Tests") else default

    monkeypatch.setattr("sys.stdin.isatty", lambda: True, raising=False)
    monkeypatch.setattr("sys.stderr.isatty", lambda: True, raising=False)
    monkeypatch.setattr(click, "prompt", prompt)
    assert correlate("start", raw, "--no-score").code == 0
    assert asked == [
        "Tests (pattern of paths): lab/push/R1.csv",
        "Model results (pattern of paths): runs/B1/push.csv",
        "Unit system of results without units: mm-ms-kg",
    ]
    assert (raw / "campaign.toml").exists()
