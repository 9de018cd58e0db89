"""A tuned deck as a release: what was changed, what it bought, and which limits it breaks."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import pytest

from correlate.errors import SettingsError
from correlate.tuning.missing_runs import local_engine, run_missing
from correlate.tuning.release import change_list, write_release
from correlate.tuning.runs import read_state
from tests.tuning.project import GainRater, tuning_project

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from correlate.tuning.definition import Tuning


def run(folder: Path, gains: Sequence[float]) -> Tuning:
    """Make a project and run it."""
    tuning = tuning_project(folder, gains)
    run_missing(tuning, GainRater(), engine=local_engine(2))
    return tuning


def test_the_change_list_says_what_changed_and_what_it_bought(tmp_path: Path) -> None:
    """From 2 to 4 is +100 %; the rating of the small project then goes from 0.8 to 1."""
    tuning = run(tmp_path, [2.0, 4.0])
    release = change_list(tuning, read_state(tuning), "p001")
    gain, delay = release.changes
    assert (gain.old, gain.new, gain.at_bound) == (2.0, 4.0, False)
    assert gain.percent == pytest.approx(100.0)
    assert (delay.old, delay.new, delay.percent, delay.at_bound) == (0.0, 0.0, None, True)
    bought = {one.outcome: one.change for one in release.gains}
    assert bought == pytest.approx(
        {"train": 0.2, "held-out": 0.1, "overall": 0.2, "load case/push": 0.2, "load case/pull": 0.1}
    )
    assert release.losses == ()


def test_limits_that_a_run_breaks_are_named(tmp_path: Path) -> None:
    """At 7 the held-out load case falls from 0.4 to 0.35, which is more than 0.02."""
    tuning = run(tmp_path, [2.0, 7.0])
    assert change_list(tuning, read_state(tuning), "p001").losses == (
        "held-out load case 'pull' loses 0.050, more than 0.02",
    )


def test_a_window_that_is_left_is_named(tmp_path: Path) -> None:
    """Met at the start and not after: the second limit of the goal."""
    tuning = run(tmp_path, [2.0, 6.9])
    path = tuning.run_folder("p001") / "record.json"
    content = json.loads(path.read_text(encoding="utf-8"))
    content["outcomes"]["window/push/peak"] = -0.01
    content["outcomes"]["load case/pull"] = 0.9
    path.write_text(json.dumps(content), encoding="utf-8")
    losses = change_list(tuning, read_state(tuning), "p001").losses
    assert losses == ("push/peak leaves its qualification window",)


def test_a_release_holds_results_deck_and_change_list(tmp_path: Path) -> None:
    """The deck carries the name of the release."""
    tuning = run(tmp_path, [2.0, 4.0])
    (tmp_path / "model.template").write_text("gain = {{ gain }}\ndelay = {{ delay }}\n", encoding="utf-8")
    release = change_list(tuning, read_state(tuning), "p001")
    place = tmp_path / "T1"
    place.mkdir()
    write_release(tuning, release, place, name="T1", files={"changes.md": "words\n"})
    assert (place / "result.txt").read_text(encoding="utf-8") == "4.0"
    assert (place / "model.deck").read_text(encoding="utf-8") == "gain = 4.0\ndelay = 0.0\n"
    assert (place / "changes.md").read_text(encoding="utf-8") == "words\n"
    kept = json.loads((place / "changes.json").read_text(encoding="utf-8"))
    assert kept["changes"][0] == {
        "name": "gain",
        "unit": "kN/mm",
        "old": 2.0,
        "new": 4.0,
        "percent": pytest.approx(100.0),
        "at_bound": False,
    }


def test_runs_that_say_nothing_are_refused(tmp_path: Path) -> None:
    """An unknown point, a failed run, and a design without the start point."""
    tuning = run(tmp_path, [2.0, 9.0])
    state = read_state(tuning)
    with pytest.raises(SettingsError, match="there is no point 'p007'"):
        change_list(tuning, state, "p007")
    with pytest.raises(SettingsError, match="the run of point 'p001' is failed"):
        change_list(tuning, state, "p001")
    (tmp_path / "other").mkdir()
    other = run(tmp_path / "other", [3.0])
    with pytest.raises(SettingsError, match="the start point has no finished run"):
        change_list(other, read_state(other), "p000")
