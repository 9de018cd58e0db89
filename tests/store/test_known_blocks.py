"""A load case of a release is read again exactly if its files, settings or ratings are not as they were."""

from __future__ import annotations

import json
import shutil
import sqlite3
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sqlalchemy import select, update

from correlate import RunInfo, load_campaign, open_store, score_into
from correlate.database import writing
from correlate.evaluation.case import CaseEvaluation
from correlate.file_hashes import file_hashes
from correlate.limits import SAMPLES_VARIABLE
from correlate.store import Store
from correlate.store.sharing import KnownRatings
from correlate.store.tables import EVIDENCE
from tests.campaign.conftest import CAMPAIGN, half_sine, write_columns

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path

    from correlate import StoredScores
    from correlate.evaluation.record import PairRecord

EVERY = {("push", "B1"), ("push", "B2"), ("pull", "B1"), ("pull", "B2")}
CASE = CAMPAIGN[CAMPAIGN.index("[[load_case]]") : CAMPAIGN.index("[[release]]")]
CASES = (
    CASE
    + CASE.replace('"push"', '"pull"').replace("tests/", "pull/")
    + ('[[load_case.channel]]\ntest = "strain"\nregion = "thorax"\n')
)


def write_project(folder: Path) -> Path:
    """Write two load cases and two releases; a channel that no file has can never be rated."""
    releases = '[[release]]\nname = "B1"\nfolder = "B1"\n[[release]]\nname = "B2"\nfolder = "B2"\n'
    text = CAMPAIGN[: CAMPAIGN.index("[[load_case]]")] + CASES + releases
    for name, height in (("tests", 4.0), ("pull", 5.0)):
        for number in (1, 2):
            write_test(folder / name / f"R{number}.csv", height + number / 10)
    for place, release in enumerate(("B1", "B2")):
        for case in ("push", "pull"):
            write_columns(
                folder / release / f"{case}.csv",
                {
                    "probe force [N]": -half_sine(6.0, 3900.0 + place),
                    "compression [m]": half_sine(8.0, 0.055),
                    "spare [N]": half_sine(8.0, 1.0),
                },
            )
    (folder / "campaign.toml").write_text(text, encoding="utf-8")
    return folder


def write_test(file: Path, height: float) -> None:
    """Write a repeat."""
    columns = {"force [kN]": half_sine(5.0, height), "deflection [mm]": half_sine(7.0, 60.0)}
    write_columns(file, columns)


@pytest.fixture(scope="module")
def scored_once(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Write the project and rate it."""
    folder = write_project(tmp_path_factory.mktemp("known") / "project")
    scored(folder)
    return folder


@pytest.fixture
def project(scored_once: Path, tmp_path: Path) -> Path:
    """Copy the rated project."""
    return shutil.copytree(scored_once, tmp_path / "project")


def scored(folder: Path, store: str = "ratings.sqlite") -> StoredScores:
    """Rate the project in this process."""
    with open_store(folder / store) as opened:
        return score_into(opened, load_campaign(folder), run=RunInfo.now(), workers=1)


def read_by(monkeypatch: pytest.MonkeyPatch, folder: Path) -> set[tuple[str, str]]:
    """Rate the project again, and return the blocks whose result was read."""
    read: set[tuple[str, str]] = set()
    model = CaseEvaluation.model

    def noted(case: CaseEvaluation, release: Any) -> Any:
        read.add((case.load_case.name, release.name))
        return model(case, release)

    monkeypatch.setattr(CaseEvaluation, "model", noted)
    scored(folder)
    return read


def plain(found: StoredScores) -> tuple[Any, ...]:
    """Return everything that does not depend on what was known before."""
    scores = found.scores
    records = [
        (one.release, one.load_case, one.channel, one.repeat, one.key, one.overall) for one in scores.records
    ]
    pairs = [(one.release, one.load_case, one.channel, one.repeat, one.overall) for one in found.pairs]
    evidence = [one.as_plain() for one in scores.evidence]
    counted = scores.new + scores.reused
    return records, pairs, scores.unrated, scores.unpaired, evidence, counted


def add_byte(file: str) -> Callable[[Path], None]:
    """Return a change of one number in a file."""

    def change(folder: Path) -> None:
        text = (folder / file).read_text(encoding="utf-8")
        place = text.rindex(",") + 1
        digit = "1" if text[place] != "1" else "2"
        (folder / file).write_text(text[:place] + digit + text[place + 1 :], encoding="utf-8")

    return change


def edit(old: str, new: str) -> Callable[[Path], None]:
    """Return a change of the campaign file, at its last place."""

    def change(folder: Path) -> None:
        file = folder / "campaign.toml"
        text = file.read_text(encoding="utf-8")
        place = text.rindex(old)
        file.write_text(text[:place] + new + text[place + len(old) :], encoding="utf-8")

    return change


def remove_rating(folder: Path) -> None:
    """Delete one rating of B2 in the load case pull, as only a damaged store would have lost it."""
    connection = sqlite3.connect(folder / "ratings.sqlite")
    wanted = "select rating_key from entries where release = 'B2' and load_case = 'pull' limit 1"
    connection.execute(f"delete from ratings where key = ({wanted})")  # noqa: S608 - no input
    connection.commit()
    connection.close()


def add_repeat(folder: Path) -> None:
    """Add a third test to the load case pull."""
    write_test(folder / "pull/R3.csv", 4.4)


def remove_test(folder: Path) -> None:
    """Delete a test of the load case pull."""
    (folder / "pull/R2.csv").unlink()


def remove_result(folder: Path) -> None:
    """Delete a result."""
    (folder / "B1/pull.csv").unlink()


PULL = {("pull", "B1"), ("pull", "B2")}


@pytest.mark.parametrize(
    ("change", "again"),
    [
        (lambda _: None, set()),
        (edit('title = "sternum deflection"', 'title = "sternum"'), set()),
        (edit('region = "thorax"', 'region = "thorax"\nweight = 2'), set()),
        (add_byte("B2/pull.csv"), {("pull", "B2")}),
        (add_byte("pull/R1.csv"), PULL),
        (add_repeat, PULL),
        (remove_test, PULL),
        (remove_result, {("pull", "B1")}),
        (remove_rating, {("pull", "B2")}),
        (edit("cfc = 180", "cfc = 600"), PULL),
        (edit("interval_ms = [0, 50]", "interval_ms = [0, 40]"), PULL),
        (edit("[[release]]", "[rating]\nslope_limit = 1.5\n[[release]]"), EVERY),
    ],
    ids=[
        "nothing",
        "title",
        "weight",
        "byte of a result",
        "byte of a test",
        "new repeat",
        "removed test",
        "removed result",
        "removed rating",
        "filter",
        "interval",
        "rating",
    ],
)
def test_exactly_what_changed_is_read_again(
    project: Path,
    monkeypatch: pytest.MonkeyPatch,
    change: Callable[[Path], None],
    again: set[tuple[str, str]],
) -> None:
    """And what comes out is what a new store would have got; after that everything is known."""
    change(project)
    assert read_by(monkeypatch, project) == again
    assert plain(scored(project)) == plain(scored(project, "new.sqlite"))
    assert read_by(monkeypatch, project) == set()


def test_another_version_reads_everything_again(project: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Its numbers may be others."""
    monkeypatch.setattr("correlate.evaluation.evidence.VERSION", "next")
    assert read_by(monkeypatch, project) == EVERY


def test_other_limits_read_everything_again(project: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What was refused as too large may be accepted now."""
    monkeypatch.setenv(SAMPLES_VARIABLE, "1000000")
    assert read_by(monkeypatch, project) == EVERY


def test_verifying_reads_everything_again(project: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nothing of an earlier run is believed then, except ratings of the same bytes."""
    with file_hashes(project).verifying():
        assert read_by(monkeypatch, project) == EVERY


def test_a_file_that_could_not_be_read_is_tried_again(project: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The reason may lie outside of the file, such as a library that is installed later."""
    (project / "B2/pull.csv").write_text("no table", encoding="utf-8")
    (project / "tests/R1.csv").write_text("no table", encoding="utf-8")
    scored(project)
    assert read_by(monkeypatch, project) == {("pull", "B2"), ("push", "B1"), ("push", "B2")}


def test_evidence_of_an_earlier_version_is_read_again_once(
    project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """It holds the channels only, and no rating is made again."""
    with open_store(project / "ratings.sqlite") as store, writing(store._engine) as connection:
        for row in connection.execute(select(EVIDENCE)).all():
            channels = json.dumps(json.loads(row.content)["channels"])
            of_block = (EVIDENCE.c[name] == getattr(row, name) for name in ("release", "load_case"))
            connection.execute(update(EVIDENCE).where(*of_block).values(content=channels))
    assert scored(project).scores.new == 0
    assert read_by(monkeypatch, project) == set()


def test_a_moved_project_names_its_new_place(project: Path, tmp_path: Path) -> None:
    """Sentences about pairs that could not be rated come from the store, with the present folder."""
    unreadable = "test,unit\n"
    (project / "pull/R2.csv").write_text(unreadable, encoding="utf-8")
    (project / "B1/pull.csv").unlink()
    scored(project)
    moved = shutil.copytree(project, tmp_path / "moved")
    found = scored(moved)
    assert plain(found) == plain(scored(moved, "new.sqlite"))
    assert any(str(moved) in one.reason for one in found.scores.unrated)
    assert not any(str(project) in one.reason for one in found.scores.unrated)


def test_known_ratings_are_not_rated_again_where_a_block_is_read(project: Path) -> None:
    """A new repeat costs its own pairs only."""
    add_repeat(project)
    scores = scored(project).scores
    assert (scores.new, scores.reused) == (4, 16)


def test_only_the_records_of_a_block_that_is_read_are_read(
    project: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The other load case stays in the store, and no record is held in memory afterwards."""
    asked: list[dict[str, str]] = []
    ratings = Store.ratings

    def noted(store: Store, **only: str) -> list[PairRecord]:
        asked.append(only)
        return ratings(store, **only)

    monkeypatch.setattr(Store, "ratings", noted)
    add_repeat(project)
    found = scored(project).scores
    names = {"campaign": load_campaign(project).title, "load_case": "pull"}
    assert sorted(asked, key=str) == [names | {"release": "B1"}, names | {"release": "B2"}]
    assert not isinstance(found.records, list)


def test_known_ratings_survive_another_program(project: Path) -> None:
    """A pair that is rated again after its key was read still has its earlier rating under that key."""
    with open_store(project / "ratings.sqlite") as store:
        title = load_campaign(project).title
        known = KnownRatings(store, title)
        before = {key: store.known([key])[key] for key in known}
        key, record = next(iter(before.items()))
        store.keep([replace(record, key="later")], run=RunInfo.now())
        assert key not in KnownRatings(store, title)
        assert {name: known[name] for name in known} == before


CHANGES: dict[str, Callable[[Path], None]] = {
    "nothing": lambda _: None,
    "result": add_byte("B2/pull.csv"),
    "test": add_byte("tests/R1.csv"),
    "repeat": add_repeat,
    "filter": edit("cfc = 180", "cfc = 600"),
    "filter back": edit("cfc = 600", "cfc = 180"),
    "rating": remove_rating,
}


@settings(max_examples=12)
@given(names=st.lists(st.sampled_from(sorted(CHANGES)), max_size=4))
def test_any_sequence_of_changes_gives_what_a_new_store_would(
    scored_once: Path, tmp_path_factory: pytest.TempPathFactory, names: list[str]
) -> None:
    """Whatever happens to files, settings and ratings between runs, and in whatever order."""
    folder = shutil.copytree(scored_once, tmp_path_factory.mktemp("changes") / "project")
    for number, name in enumerate(names):
        try:
            CHANGES[name](folder)
        except ValueError:
            continue  # there is nothing to change back
        assert plain(scored(folder)) == plain(scored(folder, f"{number}.sqlite"))
