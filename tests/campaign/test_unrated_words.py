"""Pairs that could not be rated, in words: one sentence for each cause, and JSON that keeps every pair."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from correlate.campaign.unrated_words import unrated_lines
from correlate.evaluation.evidence import Unrated
from tests.campaign.slow_project import build
from tests.cli.conftest import correlate as run_correlate

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

correlate = run_correlate


def unrated(release: str, case: str, channel: str, repeat: str, cause: str) -> Unrated:
    """Return a pair with a reason of its own and a cause that others may share."""
    return Unrated(release, case, channel, repeat, f"{channel} of {repeat}: {cause}", cause)


def test_pairs_of_one_cause_are_one_sentence() -> None:
    """Places are named or counted; another cause is another sentence; one pair keeps its whole reason."""
    stopped = [
        unrated("A3", "neck", channel, repeat, "the model stopped at 39 ms of 150 ms")
        for channel in ("force", "moment")
        for repeat in ("R1", "R2", "R3")
    ]
    other = unrated("A3", "seat", "force", "R1", "the unit is unknown")
    assert unrated_lines([*stopped[:3], other, *stopped[3:]]) == [
        "A3 neck: the model stopped at 39 ms of 150 ms: 6 pairs (2 channels, 3 repeats)",
        "A3 seat: force of R1: the unit is unknown: 1 pair (force, R1)",
    ]


def test_many_places_are_counted() -> None:
    """Four load cases of two releases are not listed."""
    gone = [unrated(one, f"case {n}", "force", "R1", "gone") for one in ("A1", "A2") for n in range(4)]
    assert unrated_lines(gone) == ["4 load cases of A1, A2: force of R1: gone: 8 pairs (force, R1)"]


@pytest.fixture
def stopped(tmp_path: Path) -> Path:
    """Cut the result of a project at 200 of 500 ms."""
    folder = build(tmp_path)
    result = folder / "B1" / "slow.csv"
    lines = result.read_text(encoding="utf-8").splitlines()
    kept = [line for line in lines if not line[0].isdigit() or float(line.split(",")[0]) <= 200]
    result.write_text("\n".join(kept) + "\n", encoding="utf-8")
    return folder


def test_a_solver_that_stopped_early_is_one_message(correlate: Callable[..., Outcome], stopped: Path) -> None:
    """In the tables of score and gate; JSON has every pair, with its own reason."""
    said = correlate("score", stopped, "--workers", 1).out
    assert said.count("stopped at") == 1
    words = "B1 slow, B1 secret: the model stopped at 200 ms of 500 ms: 18 pairs (3 channels, 3 repeats)"
    assert words in " ".join(said.split())
    gate = " ".join(correlate("gate", stopped, "--release", "B1").out.split())
    assert "slow / 3 channels: the model stopped at 200 ms of 500 ms" in gate
    listed = json.loads(correlate("score", stopped, "--json", "--workers", 1).out)["unrated"]
    assert len(listed) == 18
    assert len({one["reason"] for one in listed}) == 9
    assert {one["cause"] for one in listed} == {"the model stopped at 200 ms of 500 ms"}


def test_a_test_that_ends_early_is_not_the_model(correlate: Callable[..., Outcome], tmp_path: Path) -> None:
    """One repeat is short; the others are rated."""
    folder = build(tmp_path)
    test = folder / "tests" / "R2.csv"
    lines = test.read_text(encoding="utf-8").splitlines()
    test.write_text("\n".join(lines[:302]) + "\n", encoding="utf-8")
    said = " ".join(correlate("score", folder, "--workers", 1).out.split())
    assert "the test ends at 250 ms of 500 ms: 6 pairs (3 channels, R2)" in said
