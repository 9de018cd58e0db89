"""A sign-off holds for the ratings, files and settings that were signed, and says when they have changed."""

from __future__ import annotations

import shutil
from datetime import UTC, date, datetime, timedelta
from typing import TYPE_CHECKING

import pytest

from correlate import RunInfo, load_campaign, open_store, score_into
from correlate.errors import CorrelateError
from correlate.store import SignOffToday, sign_offs_today, sign_release, stored_ratings
from tests.dashboard.project import write_models, write_project

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from correlate import SignOff

DAY = date(2026, 3, 10)


@pytest.fixture(scope="module")
def rated(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the small project and rate it."""
    folder = write_project(tmp_path_factory.mktemp("signing") / "small")
    rate(folder)
    return folder


@pytest.fixture
def project(rated: Path, tmp_path: Path) -> Path:
    """Return a copy that a test may change."""
    return shutil.copytree(rated, tmp_path / "small")


def rate(folder: Path) -> None:
    """Rate what is not rated."""
    campaign = load_campaign(folder)
    with open_store(folder / "ratings.sqlite") as store:
        score_into(store, campaign, run=RunInfo.now(who="analyst"), workers=1)


def sign(folder: Path, **words: object) -> SignOff:
    """Sign the second release."""
    given: dict[str, object] = {"role": "manager", "who": "office", "date": DAY, **words}
    with open_store(folder / "ratings.sqlite") as store:
        return sign_release(store, load_campaign(folder), "A2", **given)  # type: ignore[arg-type]


def today(folder: Path) -> list[SignOffToday]:
    """Return the sign-offs of the second release as they are shown."""
    campaign = load_campaign(folder)
    with open_store(folder / "ratings.sqlite") as store:
        return sign_offs_today(store, campaign, "A2", stored_ratings(store, campaign).evidence["A2"])


def edit(old: str, new: str) -> Callable[[Path], None]:
    """Return a function that changes the campaign file."""

    def change(folder: Path) -> None:
        file = folder / "campaign.toml"
        text = file.read_text(encoding="utf-8")
        assert old in text
        file.write_text(text.replace(old, new), encoding="utf-8")

    return change


def lose_tests(folder: Path) -> None:
    """Remove the tests of a load case."""
    shutil.rmtree(folder / "laboratory/drop")


def calm_test(folder: Path) -> None:
    """Change one number of one test."""
    file = folder / "laboratory/drop/D01.csv"
    file.write_text(file.read_text(encoding="utf-8").replace("200", "201"), encoding="utf-8")


INPUTS = "tests, model results or settings have changed since"


def test_a_sign_off_holds_while_nothing_changes(project: Path) -> None:
    """It has scope, words and signer, and lists no change; space around the words is dropped."""
    signed = sign(project, scope=" not for the neck ", text=" agreed ")
    assert (signed.scope, signed.text, signed.who, signed.role) == (
        "not for the neck",
        "agreed",
        "office",
        "manager",
    )
    assert len(signed.inputs_sha256) == 64
    (one,) = today(project)
    assert one.sign_off == signed
    assert one.is_current
    assert today(shutil.copytree(project, project.parent / "elsewhere"))[0].is_current


@pytest.mark.parametrize(
    "change",
    [
        edit("interval_ms = [0, 40]", "interval_ms = [0, 39]"),
        edit('title = "Drop onto a plate"', 'title = "Drop onto a plate"\nweight = 2.0'),
        edit("held_out = true\n", ""),
        edit('[[load_case]]\nname = "drop"', '[limits]\nleast = 0.5\n\n[[load_case]]\nname = "drop"'),
        calm_test,
        lose_tests,
        lambda folder: write_models(folder / "releases/A2", late_s=0.6e-3, height=195.0),
    ],
    ids=["interval", "weight", "held out", "limits", "test", "no tests", "model"],
)
def test_changed_inputs_are_said(project: Path, change: Callable[[Path], None]) -> None:
    """A file, a setting, a weight or a limit: whatever the numbers and the verdict depend on."""
    sign(project)
    change(project)
    (one,) = today(project)
    assert not one.is_current
    assert one.changes == (INPUTS,)


@pytest.mark.parametrize(
    "change",
    [
        edit('title = "Drop onto a plate"', 'title = "Drop onto a steel plate"'),
        edit('note = "First guess"', 'note = "First attempt"'),
        edit(
            '[[release]]\nname = "A2"',
            '[[release]]\nname = "A0"\nfolder = "releases/A1"\n\n[[release]]\nname = "A2"',
        ),
        lambda folder: write_models(folder / "releases/A1", late_s=0.6e-3, height=195.0),
    ],
    ids=["title", "note", "another release", "model of another release"],
)
def test_what_is_no_input_of_the_release_changes_nothing(
    project: Path, change: Callable[[Path], None]
) -> None:
    """Text for display, and other releases."""
    sign(project)
    change(project)
    assert today(project)[0].is_current


def test_a_release_that_was_rated_again_says_so(project: Path) -> None:
    """Both are said: other inputs, and other ratings; signing again refers to the present ones."""
    sign(project)
    calm_test(project)
    rate(project)
    assert today(project)[0].changes == ("the release has been rated again since", INPUTS)
    sign(project)
    assert [one.is_current for one in today(project)] == [False, True]


def test_the_same_sign_off_again_is_one(project: Path) -> None:
    """A command that was stopped after it had saved can be given again; other words are another sign-off."""
    first = sign(project, text="agreed")
    assert sign(project, text="agreed") == first
    assert sign(project, text="agreed again") != first
    assert [one.sign_off.text for one in today(project)] == ["agreed", "agreed again"]


def test_a_sign_off_without_inputs_is_judged_by_the_evidence(project: Path) -> None:
    """As those of earlier versions are: stale ratings are known of them too."""
    with open_store(project / "ratings.sqlite") as store:
        title = load_campaign(project).title
        store.sign_off(campaign=title, release="A2", role="lab", date=DAY, who="lab")
    assert today(project)[0].is_current
    calm_test(project)
    assert today(project)[0].changes == ("the ratings do not match the present files and settings",)


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        ({"who": "  "}, "the sign-off has no who; give one"),
        ({"role": ""}, "the sign-off has no role; give one"),
        (
            {"date": datetime.now(UTC).date() + timedelta(days=2)},
            "of the sign-off lies in the future; give the day of the decision",
        ),
    ],
)
def test_what_cannot_be_signed(project: Path, words: dict[str, object], sentence: str) -> None:
    """One sentence, and nothing is written."""
    with pytest.raises(CorrelateError, match=sentence):
        sign(project, **words)
    assert today(project) == []


def test_tests_that_are_not_there_cannot_be_signed(project: Path) -> None:
    """Nobody could say later what was signed."""
    lose_tests(project)
    with pytest.raises(CorrelateError, match="drop"):
        sign(project)
    assert today(project) == []
