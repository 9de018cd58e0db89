"""Results of runs made elsewhere: taken in by deck or values, strangers refused."""

from __future__ import annotations

import json
import shutil
from typing import TYPE_CHECKING

import pytest

from correlate.errors import FormatError, SettingsError
from correlate.tuning.missing_runs import collect, local_engine, rate_unrated, run_missing, write_decks
from correlate.tuning.runs import read_state, run_table
from tests.tuning.project import GainRater, calls, tuning_project

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.tuning.definition import Tuning


@pytest.fixture
def tuning(tmp_path: Path) -> Tuning:
    """Make a project of three points."""
    (tmp_path / "home").mkdir()
    return tuning_project(tmp_path / "home", [2.0, 3.0, 4.0])


def run_elsewhere(place: Path, result: str, *, beside: bool = False) -> None:
    """Write what a solver on another machine would."""
    output = place if beside else place / "output"
    output.mkdir(exist_ok=True)
    (output / "result.txt").write_text(result, encoding="utf-8")
    (place / "run.log").write_text("far away\nnormal end\n", encoding="utf-8")


def test_decks_go_out_and_results_come_in(tuning: Tuning, tmp_path: Path) -> None:
    """Folders may be renamed and line ends changed on the way; results may lie beside the deck."""
    away = tmp_path / "away"
    assert write_decks(tuning, away) == ["p000", "p001", "p002"]
    (away / "p000").rename(away / "job-4711")
    deck = away / "job-4711" / "model.deck"
    deck.write_bytes(deck.read_bytes().replace(b"\n", b"\r\n"))
    run_elsewhere(away / "job-4711", "2.0")
    run_elsewhere(away / "p001", "3.0", beside=True)
    shutil.rmtree(away / "p002")
    found = collect(tuning, away)
    assert [record.identity for record in found.taken] == ["p000", "p001"]
    rate_unrated(tuning, read_state(tuning), GainRater())
    table = run_table(tuning, read_state(tuning))
    assert table.status == ("done", "done", "waiting")
    assert table.outcomes["train"][:2].tolist() == pytest.approx([0.8, 0.9])
    record = read_state(tuning).records["p001"]
    assert record.log_tail == ("far away", "normal end")
    assert record.collected_from == str(away / "p001")
    assert [path.name for path in tuning.output_folder("p001").iterdir()] == ["result.txt"]
    run_missing(tuning, GainRater(), engine=local_engine(1))
    assert calls(tuning) == ["p002"]


def test_values_beside_the_results_tell_the_point_too(tuning: Tuning, tmp_path: Path) -> None:
    """For solvers that are not driven by our deck."""
    place = tmp_path / "away" / "one"
    place.mkdir(parents=True)
    run_elsewhere(place, "4.0")
    (place / "values.json").write_text(json.dumps({"gain": 4, "delay": 0}), encoding="utf-8")
    assert [record.identity for record in collect(tuning, tmp_path / "away").taken] == ["p002"]


def test_what_has_a_run_already_is_left_alone(tuning: Tuning, tmp_path: Path) -> None:
    """The results that are there stay."""
    write_decks(tuning, tmp_path / "away")
    for name in ("p000", "p001", "p002"):
        run_elsewhere(tmp_path / "away" / name, "5.0")
    run_missing(tuning, GainRater(), engine=local_engine(2))
    found = collect(tuning, tmp_path / "away")
    assert (found.taken, found.known) == ((), ("p000", "p001", "p002"))
    assert (tuning.output_folder("p000") / "result.txt").read_text(encoding="utf-8") == "2.0"


def test_strangers_are_refused_and_nothing_is_taken_in(tuning: Tuning, tmp_path: Path) -> None:
    """One sentence names every stranger: another deck, other values, and no word of what it is."""
    away = tmp_path / "away"
    write_decks(tuning, away)
    for name in ("p000", "p001", "p002"):
        run_elsewhere(away / name, "2.0")
    (away / "p001" / "model.deck").write_text("gain = 9.9\n", encoding="utf-8")
    (away / "p002" / "model.deck").unlink()
    with pytest.raises(SettingsError, match=r"of no design point: p001, p002; keep 'model\.deck'"):
        collect(tuning, away)
    assert read_state(tuning).records == {}


def test_one_point_twice_is_refused(tuning: Tuning, tmp_path: Path) -> None:
    """Nobody can say which of the two counts."""
    away = tmp_path / "away"
    write_decks(tuning, away)
    for name in ("p001", "p002"):
        shutil.rmtree(away / name)
    shutil.copytree(away / "p000", away / "copy")
    with pytest.raises(SettingsError, match="'copy' and 'p000' are both point 'p000'"):
        collect(tuning, away)


def test_folders_without_runs_are_refused(tuning: Tuning, tmp_path: Path) -> None:
    """An absent folder and an empty one."""
    with pytest.raises(FormatError, match="there is no such folder"):
        collect(tuning, tmp_path / "away")
    (tmp_path / "away").mkdir()
    with pytest.raises(FormatError, match="there are no runs in the folder"):
        collect(tuning, tmp_path / "away")
