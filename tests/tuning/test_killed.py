"""A real kill in the middle: no finished run is lost or repeated, and no solver is left behind."""

from __future__ import annotations

import os
import select
import signal
import subprocess
import sys
from pathlib import Path

from correlate.files import Lock
from correlate.tuning.missing_runs import local_engine, run_missing
from correlate.tuning.runs import read_state, run_table
from tests.dashboard.jobs.at_work import until
from tests.tuning.project import GainRater, calls, tuning_project

ROOT = Path(__file__).parents[2]
SUPERVISOR = """
import sys
from pathlib import Path
from correlate.tuning.definition import load_tuning
from correlate.tuning.missing_runs import local_engine
from correlate.tuning.missing_runs import run_missing
from tests.dashboard.jobs.at_work import until
from tests.tuning.project import GainRater
run_missing(load_tuning(Path(sys.argv[1])), GainRater(), engine=local_engine(2))
"""

WITHOUT_A_WATCH = """
from contextlib import nullcontext
from correlate.tuning import running
running.ended_with_this_process = nullcontext
"""


def wait_for(names: set[str], pipe: int) -> None:
    """Read names of started solvers from a pipe until all are there, at most 20 s for each."""
    heard = ""
    while not names <= set(heard.split()):
        assert select.select([pipe], [], [], 20.0)[0], "the solvers never started"
        heard += os.read(pipe, 1000).decode()


def is_held(path: Path) -> bool:
    """Say whether a process holds a lock."""
    try:
        Lock(path).__exit__()
    except BlockingIOError:
        return True
    return False


def test_after_a_kill_the_next_start_goes_on(tmp_path: Path) -> None:
    """Killed with two runs done and two under way, the next start runs these two and the last."""
    tuning = tuning_project(tmp_path, [2.0, 3.0, 4.0, 5.0, 6.0])
    text = tuning.design_file.read_text(encoding="utf-8")
    for slow in ("4.0,0.0", "5.0,0.0"):
        text = text.replace(slow, slow.replace("0.0", "60.0"))
    tuning.design_file.write_text(text, encoding="utf-8")
    os.mkfifo(tmp_path / "ready")
    pipe = os.open(tmp_path / "ready", os.O_RDWR)
    supervisor = subprocess.Popen([sys.executable, "-c", SUPERVISOR, str(tmp_path)], cwd=ROOT)
    slow_logs = [tuning.run_folder(name) / "lock" for name in ("p002", "p003")]
    wait_for({"p002", "p003"}, pipe)
    os.kill(supervisor.pid, signal.SIGKILL)
    supervisor.wait()
    os.close(pipe)
    (tmp_path / "ready").unlink()
    before = read_state(tuning).records
    assert set(before) == {"p000", "p001"}
    until(lambda: not any(is_held(lock) for lock in slow_logs))

    tuning.design_file.write_text(text.replace("60.0", "0.0"), encoding="utf-8")
    run_missing(tuning, GainRater(), engine=local_engine(2))
    table = run_table(tuning, read_state(tuning))
    assert table.status == ("done",) * 5
    assert table.outcomes["train"].round(9).tolist() == [0.8, 0.9, 1.0, 0.9, 0.8]
    count = {name: calls(tuning).count(name) for name in table.identities}
    assert count == {"p000": 1, "p001": 1, "p002": 2, "p003": 2, "p004": 1}
    started = {name: one.started for name, one in before.items()}
    after = read_state(tuning).records
    assert {name: after[name].started for name in started} == started


def test_solvers_that_outlive_all_who_watch_them_are_ended_by_the_next_start(tmp_path: Path) -> None:
    """The program and its watch are killed at once; the solver is known by its lock."""
    tuning = tuning_project(tmp_path, [2.0])
    text = tuning.design_file.read_text(encoding="utf-8")
    tuning.design_file.write_text(text.replace("2.0,0.0", "2.0,60.0"), encoding="utf-8")
    os.mkfifo(tmp_path / "ready")
    pipe = os.open(tmp_path / "ready", os.O_RDWR)
    supervisor = subprocess.Popen(
        [sys.executable, "-c", WITHOUT_A_WATCH + SUPERVISOR, str(tmp_path)], cwd=ROOT
    )
    wait_for({"p000"}, pipe)
    supervisor.kill()
    supervisor.wait()
    os.close(pipe)
    (tmp_path / "ready").unlink()
    lock = tuning.run_folder("p000") / "lock"
    assert is_held(lock), "the solver should still be at work"
    tuning.design_file.write_text(text, encoding="utf-8")
    run_missing(tuning, GainRater(), engine=local_engine(1))
    assert run_table(tuning, read_state(tuning)).status == ("done",)
    assert not is_held(lock)
