"""``correlate sign``: who is responsible for a release, and whether that still refers to what there is."""

from __future__ import annotations

import shutil
from typing import TYPE_CHECKING

import pytest

from correlate import RunInfo, load_campaign, open_store, score_into
from tests.campaign.conftest import project as project_on_disk

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from tests.cli.conftest import Outcome

    Run = Callable[..., Outcome]

unrated = project_on_disk


@pytest.fixture
def project(unrated: Path) -> Path:
    """Rate the small project of one release."""
    with open_store(unrated / "ratings.sqlite") as store:
        score_into(store, load_campaign(unrated), run=RunInfo.now(), workers=1)
    return unrated


def test_a_release_is_signed_and_the_list_says_so(correlate: Run, project: Path) -> None:
    """Role, day, scope, signer and remark; the verdict stands above them; the gate says the same."""
    assert correlate("sign", project, "B1").out.splitlines()[-1] == "Not signed off."
    words = ("--as", "manager", "--who", "office", "--scope", "seats only", "--remark", "agreed")
    signed = correlate("sign", project, "B1", *words, "--date", "2026-03-10")
    assert signed.code == 0
    line = "Signed off by manager, 10 March 2026, scope: seats only; office. “agreed”"
    assert signed.out.splitlines()[-1] == line
    assert signed.out.startswith("B1 is not judged, because no limits are set")
    assert correlate("sign", project, "B1").out == signed.out
    gate = correlate("gate", project, "--release", "B1", "--workers", 1)
    assert line in " ".join(gate.out.split())


def test_changed_inputs_are_said_in_the_terminal(correlate: Run, project: Path) -> None:
    """A test that is not the one that was signed; the signer is otherwise the account of this machine."""
    assert correlate("sign", project, "B1", "--as", "lab").code == 0
    shutil.copy(project / "tests/R2.csv", project / "tests/R1.csv")
    said = correlate("sign", project, "B1").out
    assert "Signed off by lab, " in said
    assert "(no longer current: tests, model results or settings have changed since)" in said
    assert said.startswith("B1 cannot be judged yet, because its evidence is incomplete")


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (("B7", "--as", "lab"), "there is no release 'B7'"),
        (("B1", "--as", "lab", "--date", "2999-01-01"), "the date 2999-01-01 of the sign-off lies in"),
        (("B1", "--who", "office"), "a sign-off needs a role: give --as manager, --as analyst or --as lab"),
        (("B1", "--as", "king"), "'king' is not one of 'manager', 'analyst', 'lab'"),
    ],
)
def test_what_cannot_be_signed_is_refused(
    correlate: Run, project: Path, arguments: tuple[str, ...], words: str
) -> None:
    """Exit code 2, a sentence, and nothing is written."""
    refused = correlate("sign", project, *arguments)
    assert refused.code == 2
    assert words in refused.err
    with open_store(project / "ratings.sqlite") as store:
        assert store.sign_offs() == []


def test_a_release_without_ratings_cannot_be_signed(correlate: Run, project: Path) -> None:
    """It has to be rated first."""
    (project / "ratings.sqlite").unlink()
    refused = correlate("sign", project, "B1", "--as", "lab")
    assert refused.code == 2
    assert "is not rated yet" in refused.err or "no release of 'Two repeats' is rated yet" in refused.err
