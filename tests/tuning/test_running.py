"""Running one design point: every way a run can end."""

from __future__ import annotations

import threading
import time
from typing import TYPE_CHECKING

import pytest

from correlate.errors import FormatError
from correlate.tuning.decks import DeckWriter
from correlate.tuning.points import DesignPoint
from correlate.tuning.running import job_of, run_job
from correlate.tuning.runs import read_record
from tests.tuning.project import TUNING, calls, tuning_project

if TYPE_CHECKING:
    from pathlib import Path

    from correlate.tuning.running import RunJob
    from correlate.tuning.runs import RunRecord


def job(folder: Path, gain: float = 2.0, *, delay: float = 0.0, text: str = TUNING) -> RunJob:
    """Make the job of one point."""
    tuning = tuning_project(folder, [gain], delay=delay, text=text)
    point = DesignPoint(identity="p000", round=0, values={"gain": gain, "delay": delay})
    return job_of(tuning, point, DeckWriter(tuning))


def kept(folder: Path) -> RunRecord:
    """Return the record of the run."""
    record = read_record(folder / "runs" / "p000")
    assert record is not None
    return record


def test_a_run_that_ends_well_leaves_deck_log_results_and_record(tmp_path: Path) -> None:
    """The record on disk is the one returned."""
    record = run_job(job(tmp_path))
    place = tmp_path / "runs" / "p000"
    assert (record.status, record.exit_code, record.attempts) == ("done", 0, 1)
    assert (place / "model.deck").read_text(encoding="utf-8") == "gain = 2.0\ndelay = 0.0\n"
    assert (place / "output" / "result.txt").read_text(encoding="utf-8") == "2.0"
    assert record.log_tail == ("gain is 2.0",)
    assert record.values == {"gain": 2.0, "delay": 0.0}
    assert kept(tmp_path) == record
    assert record.has_results


def test_a_failed_run_is_recorded_with_the_end_of_its_log(tmp_path: Path) -> None:
    """Exit code 3 and the last two lines; no results to rate."""
    record = run_job(job(tmp_path, gain=9.0))
    assert (record.status, record.exit_code) == ("failed", 3)
    assert record.message == "the program ended with exit code 3"
    assert record.log_tail == ("gain is 9.0", "negative volume in element 7")
    assert not record.has_results
    assert kept(tmp_path) == record


def test_a_failed_run_is_tried_again_as_often_as_asked(tmp_path: Path) -> None:
    """Two retries make three calls."""
    record = run_job(job(tmp_path, gain=9.0, text=TUNING.replace("at_once", "retries = 2\nat_once")))
    assert (record.status, record.attempts) == ("failed", 3)
    log = (tmp_path / "runs" / "p000" / "run.log").read_text(encoding="utf-8")
    assert log.count("negative volume") == 3
    assert "--- attempt 3 ---" in log


def test_a_run_that_takes_too_long_is_stopped_and_not_tried_again(tmp_path: Path) -> None:
    """A solver that would take a minute ends after 0.3 s."""
    text = TUNING.replace("timeout_s = 20", "timeout_s = 0.3\nretries = 2")
    began = time.monotonic()
    record = run_job(job(tmp_path, delay=60.0, text=text))
    assert time.monotonic() - began < 10
    assert (record.status, record.exit_code, record.attempts) == ("timed out", None, 1)
    assert record.message == "it was stopped after 0.3 s"


def test_a_program_that_cannot_be_started_is_a_failed_run(tmp_path: Path) -> None:
    """The message names the program."""
    record = run_job(job(tmp_path, text=TUNING.replace('"{python}"', '"no-such-program"')))
    assert (record.status, record.exit_code) == ("failed", None)
    assert record.message.startswith("'no-such-program' cannot be started")


def test_environment_and_working_folder_reach_the_program(tmp_path: Path) -> None:
    """Variables are set beside those there are; the folder is the one named."""
    shell = """command = ["/bin/sh", "-c", "echo $GRAVITY $HOME; pwd"]
folder = "work"
environment = { GRAVITY = "9.81" }
timeout_s"""
    lines = TUNING.splitlines()
    text = "\n".join(line for line in lines if not line.startswith("command")).replace("timeout_s", shell, 1)
    (tmp_path / "work").mkdir()
    record = run_job(job(tmp_path, text=text))
    assert record.log_tail[0].startswith("9.81 /")
    assert record.log_tail[1] == str((tmp_path / "work").resolve())


def test_a_stopped_run_leaves_no_record(tmp_path: Path) -> None:
    """Asked to stop, the process ends and the run counts as never begun."""
    stop = threading.Event()
    stop.set()
    began = time.monotonic()
    record = run_job(job(tmp_path, delay=60.0), stop)
    assert time.monotonic() - began < 10
    assert (record.status, record.message) == ("waiting", "it was stopped")
    assert read_record(tmp_path / "runs" / "p000") is None


def test_results_of_an_earlier_attempt_are_gone_before_the_next(tmp_path: Path) -> None:
    """What an old run left cannot be taken for results of the new one."""
    left = tmp_path / "runs" / "p000" / "output"
    left.mkdir(parents=True)
    (left / "old.txt").touch()
    run_job(job(tmp_path))
    assert [path.name for path in left.iterdir()] == ["result.txt"]
    assert len(calls(tuning_project(tmp_path, [2.0]))) == 1


@pytest.mark.parametrize(
    ("content", "why"),
    [
        ("{", "it cannot be read"),
        ("{}", "keys are missing"),
        (
            '{"identity": "p000", "values": {}, "deck_sha256": "", "status": "done", "new": 1}',
            "it was written by another version",
        ),
    ],
)
def test_records_that_are_none_are_refused(tmp_path: Path, content: str, why: str) -> None:
    """The sentence names the file and says that the point is run again without it."""
    (tmp_path / "record.json").write_text(content, encoding="utf-8")
    with pytest.raises(
        FormatError, match=rf"record\.json: is not a record of a run: {why}.*; delete the file"
    ):
        read_record(tmp_path)
