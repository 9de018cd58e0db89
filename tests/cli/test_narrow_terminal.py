"""Printed output at 80 columns says as much as at 140."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

import pytest

from tests.campaign.conftest import project as project_on_disk
from tests.campaign.slow_project import build
from tests.cli.test_tune import tuned as tuned_on_disk

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

project = project_on_disk
tuned = tuned_on_disk

ANGLE = ("--channel", "angle")
ON_A_CAMPAIGN = {
    "score": ["score", "{folder}", "--workers", "1"],
    "gate": ["gate", "{folder}", "--release", "B1", "--workers", "1"],
    "explain": ["explain", "{folder}", "--release", "B1", "--workers", "1"],
    "ceiling": ["ceiling", "{folder}", "--release", "B1"],
    "propose": ["propose", "{folder}"],
    "pair": [
        "pair",
        "{folder}/tests/R1.csv",
        "{folder}/B1/slow.csv",
        *ANGLE,
        "--metric",
        "all",
    ],
    "explain a pair": ["explain", "{folder}/tests/R1.csv", "{folder}/B1/slow.csv", *ANGLE],
    "repeats": ["repeats", *(f"{{folder}}/tests/R{number}.csv" for number in (1, 2, 3))],
    "check": ["check", "{folder}/tests/R1.csv", "{folder}/tests/R2.csv"],
    "qualify": ["qualify", "--list"],
    "formats": ["formats"],
}
WIDTHS = (80, 140)


def checked(narrow: Outcome, wide: Outcome, folder: Path) -> None:
    """Compare the two outputs of one command."""
    assert narrow.code == wide.code
    assert narrow.code in {0, 1}, narrow
    lines = [line.rstrip() for line in narrow.out.splitlines()]
    assert lines
    # A path is printed whole, and a curve is drawn as wide as the terminal.
    assert not [line for line in lines if len(line) > 80 and str(folder) not in line]
    assert "…" not in narrow.out
    lost = set(wide.out.split()) - set(narrow.out.split())
    assert not {word for word in lost if re.search("[a-z]", word) and not re.search("[\u2800-\u28ff]", word)}


@pytest.fixture
def at_both_widths(
    correlate: Callable[..., Outcome], monkeypatch: pytest.MonkeyPatch
) -> Callable[..., tuple[Outcome, Outcome]]:
    """Run a command twice."""

    def run(*words: object) -> tuple[Outcome, Outcome]:
        found = []
        for width in WIDTHS:
            monkeypatch.setenv("COLUMNS", str(width))
            found.append(correlate(*words))
        return found[0], found[1]

    return run


@pytest.mark.parametrize("command", ON_A_CAMPAIGN)
def test_nothing_is_lost(
    at_both_widths: Callable[..., tuple[Outcome, Outcome]],
    correlate: Callable[..., Outcome],
    tmp_path: Path,
    command: str,
) -> None:
    """No line is too long, no word is missing, nothing is cut."""
    folder = build(tmp_path)
    if command in {"score", "gate", "explain"}:
        correlate("score", folder, "--workers", 1)  # so that both runs know all ratings
    checked(*at_both_widths(*(word.format(folder=folder) for word in ON_A_CAMPAIGN[command])), folder)


def test_tuning(
    at_both_widths: Callable[..., tuple[Outcome, Outcome]], correlate: Callable[..., Outcome], tuned: Path
) -> None:
    """The table of runs, which has a column for each outcome."""
    correlate("tune", "run", tuned)
    checked(*at_both_widths("tune", "show", tuned), tuned)
