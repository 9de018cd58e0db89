"""Running what is missing: failures beside successes, resuming, rating."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.errors import SettingsError
from correlate.tuning.missing_runs import local_engine, run_missing
from correlate.tuning.points import DesignPoint, write_points
from correlate.tuning.running import lock_of_project
from correlate.tuning.runs import read_state, run_table
from tests.tuning.project import GainRater, calls, tuning_project

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.tuning.runs import RunRecord

ENGINE = local_engine(2)


def test_failed_and_unstable_runs_do_not_stop_the_others(tmp_path: Path) -> None:
    """Of four points one fails and one writes nan; the other two are rated."""
    tuning = tuning_project(tmp_path, [2.0, 9.0, 7.5, 4.0])
    told: list[tuple[int, int]] = []

    def progress(_: RunRecord, ended: int, total: int) -> None:
        told.append((ended, total))

    run_missing(tuning, GainRater(), engine=ENGINE, progress=progress)
    table = run_table(tuning, read_state(tuning))
    assert table.status == ("done", "failed", "unstable", "done")
    assert table.outcomes["train"] == pytest.approx([0.8, np.nan, np.nan, 1.0], nan_ok=True)
    assert table.points[:, 0].tolist() == [2.0, 9.0, 7.5, 4.0]
    assert told == [(1, 4), (2, 4), (3, 4), (4, 4)]
    assert "result.txt: a result is not finite" in read_state(tuning).records["p002"].message


def test_what_has_ended_is_not_run_again_unless_asked(tmp_path: Path) -> None:
    """A second start runs the new point alone; --again runs what is not done."""
    tuning = tuning_project(tmp_path, [2.0, 9.0])
    run_missing(tuning, GainRater(), engine=ENGINE)
    write_points(
        tuning.design_file,
        tuning.space,
        [
            *read_state(tuning).points,
            DesignPoint(identity="mine", round=1, values={"gain": 3.0, "delay": 0.0}),
        ],
    )
    run_missing(tuning, GainRater(), engine=ENGINE)
    assert sorted(calls(tuning)) == ["mine", "p000", "p001"]
    run_missing(tuning, GainRater(), engine=ENGINE, again=True)
    assert calls(tuning)[3:] == ["p001"]
    assert run_table(tuning, read_state(tuning)).rounds.tolist() == [0, 0, 1]


def test_a_run_that_was_not_rated_is_rated_without_being_run(tmp_path: Path) -> None:
    """Stopped between run and rating, or rated by other rules, results are rated alone."""
    tuning = tuning_project(tmp_path, [2.0])
    run_missing(tuning, GainRater(), engine=ENGINE)
    path = tuning.run_folder("p000") / "record.json"
    content = json.loads(path.read_text(encoding="utf-8"))
    path.write_text(json.dumps({**content, "outcomes": {}, "rated_by": ""}), encoding="utf-8")
    assert run_table(tuning, read_state(tuning)).status == ("waiting",)
    rater = GainRater()
    assert run_missing(tuning, rater, engine=ENGINE) == []
    assert rater.asked == ["p000"]
    assert run_table(tuning, read_state(tuning)).outcomes["train"].tolist() == [0.8]
    other = GainRater("by other rules")
    run_missing(tuning, other, engine=ENGINE)
    run_missing(tuning, other, engine=ENGINE)
    assert other.asked == ["p000"]
    assert calls(tuning) == ["p000"]


def test_a_point_or_template_changed_after_its_run_is_refused(tmp_path: Path) -> None:
    """Old results never stand beside new values."""
    tuning = tuning_project(tmp_path, [2.0])
    run_missing(tuning, GainRater(), engine=ENGINE)
    template = tmp_path / "model.template"
    text = template.read_text(encoding="utf-8")
    template.write_text(text + "# new\n", encoding="utf-8")
    with pytest.raises(SettingsError, match="the decks have changed since the runs of p000"):
        run_missing(tuning, GainRater(), engine=ENGINE)
    template.write_text(text, encoding="utf-8")
    write_points(
        tuning.design_file,
        tuning.space,
        [DesignPoint(identity="p000", round=0, values={"gain": 3.0, "delay": 0.0})],
    )
    with pytest.raises(SettingsError, match=r"design\.csv: changed after the run: p000"):
        run_missing(tuning, GainRater(), engine=ENGINE)


def test_two_programs_do_not_run_one_project(tmp_path: Path) -> None:
    """The second is refused while the first holds the folder, and not after."""
    tuning = tuning_project(tmp_path, [2.0])
    tuning.runs_folder.mkdir()
    with (
        lock_of_project(tuning.runs_folder),
        pytest.raises(SettingsError, match="another program is running"),
    ):
        run_missing(tuning, GainRater(), engine=ENGINE)
    assert len(run_missing(tuning, GainRater(), engine=ENGINE)) == 1


def test_an_engine_closed_early_ends_its_processes(tmp_path: Path) -> None:
    """An interruption in the middle leaves the finished run, and the others as never begun."""
    tuning = tuning_project(tmp_path, [2.0, 3.0])
    slow = tuning_project(tmp_path, [2.0, 3.0]).design_file.read_text(encoding="utf-8")
    tuning.design_file.write_text(slow.replace("3.0,0.0", "3.0,60.0"), encoding="utf-8")

    def interrupt(*_: object) -> None:
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        run_missing(tuning, GainRater(), engine=ENGINE, progress=interrupt)
    assert run_table(tuning, read_state(tuning)).status == ("done", "waiting")


def test_an_engine_of_no_processes_is_refused() -> None:
    """Nothing would ever end."""
    with pytest.raises(SettingsError, match="0 runs at a time are not possible"):
        local_engine(0)
