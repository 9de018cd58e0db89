"""Processes end with the one that started them, also when that one alone is killed."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from typing import TYPE_CHECKING

import pytest

from correlate.child_processes import attached, ended_with_this_process
from tests.dashboard.project import write_project
from tests.processes import ROOT, Marked, needs_proc

if TYPE_CHECKING:
    from collections.abc import Iterator
    from pathlib import Path

LASTING = [sys.executable, "-c", "import sys, time; print('ready', flush=True); time.sleep(600)"]

ATTACHING = f"""
import subprocess, sys
from correlate.child_processes import attached
# A shell with a child of its own, as a solver that is started by a script.
with attached(["sh", "-c", "'{sys.executable}' -c 'import time; time.sleep(600)' & wait"]) as process:
    print("started", flush=True)
    process.wait()
"""

POOL = """
from concurrent.futures import ProcessPoolExecutor
from correlate.parallel import WORKERS
if __name__ == "__main__":
    with ProcessPoolExecutor(2, mp_context=WORKERS) as pool:
        print(*pool.map(abs, [-1, 2]), flush=True)
        input()
"""

SCORING = """
import sys
from correlate import load_campaign, score_campaign

def look(done, total):
    # Then the process beside this one has rated, too, and waits.
    if done == total:
        print("rated", flush=True)
        input()

if __name__ == "__main__":
    score_campaign(load_campaign(PROJECT), workers=2, progress=look)
"""

pytestmark = needs_proc


@pytest.fixture
def marked(tmp_path: Path) -> Iterator[Marked]:
    """Return a mark for the programs of one test; whatever is left afterwards is ended."""
    mark = Marked(str(tmp_path))
    yield mark
    mark.end()


def kill(program: subprocess.Popen[str]) -> None:
    """End a program alone, and give it no chance to tidy up."""
    program.kill()
    program.wait()
    for stream in (program.stdin, program.stdout):
        if stream is not None:
            stream.close()


@pytest.mark.parametrize(
    ("program", "word"), [(ATTACHING, "started\n"), (POOL, "1 2\n"), (SCORING, "rated\n")]
)
def test_what_a_killed_program_started_is_ended(
    marked: Marked, tmp_path: Path, program: str, word: str
) -> None:
    """A program of others with what it started itself, and processes that share the work."""
    project = write_project(tmp_path / "project")
    (tmp_path / "program.py").write_text(program.replace("PROJECT", repr(str(project))))
    running = subprocess.Popen(
        [sys.executable, str(tmp_path / "program.py")],
        env=marked.environment,
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert running.stdout
    assert running.stdout.readline() == word
    marked.until(3)
    kill(running)
    marked.until_none()


def test_leaving_the_block_ends_the_program(marked: Marked) -> None:
    """With an exception that has nothing to do with it."""
    seen: list[subprocess.Popen[str]] = []

    def fail() -> None:
        with attached(LASTING, env=marked.environment) as process:
            seen.append(process)
            raise KeyError

    with pytest.raises(KeyError):
        fail()
    assert seen[0].returncode == -signal.SIGKILL
    marked.until_none()


def test_a_program_that_ends_well_keeps_its_exit_code(marked: Marked) -> None:
    """And is not watched any more."""
    with attached([sys.executable, "-c", "raise SystemExit(3)"], env=marked.environment) as process:
        assert process.wait() == 3
    marked.until_none()


def test_a_program_that_cannot_be_started_is_an_error(tmp_path: Path) -> None:
    """As of the system."""
    with pytest.raises(FileNotFoundError), attached([str(tmp_path / "nothing")]):
        pass


def test_programs_are_watched_again_after_the_watch_was_ended(marked: Marked, tmp_path: Path) -> None:
    """Somebody kills it; the next program starts another, which knows the ones before."""
    (tmp_path / "program.py").write_text(
        f"""
import os, signal, subprocess
from correlate import child_processes
from correlate.child_processes import attached
with attached({LASTING!r}, stdout=subprocess.DEVNULL):
    watch = child_processes._WATCHER._process
    os.kill(watch.pid, signal.SIGKILL)
    watch.wait()
    with attached({LASTING!r}, stdout=subprocess.DEVNULL) as process:
        print("started", flush=True)
        process.wait()
"""
    )
    running = subprocess.Popen(
        [sys.executable, str(tmp_path / "program.py")],
        env=marked.environment,
        stdout=subprocess.PIPE,
        text=True,
    )
    assert running.stdout
    assert running.stdout.readline() == "started\n"
    kill(running)
    marked.until_none()


def test_a_group_that_was_let_go_is_left_alone(marked: Marked, tmp_path: Path) -> None:
    """When the block is left, the program that ends later ends nobody."""
    (tmp_path / "program.py").write_text(
        """
import sys
from correlate.child_processes import ended_with_this_process
with ended_with_this_process(int(sys.argv[1])):
    pass
"""
    )
    with subprocess.Popen(
        LASTING, env=marked.environment, stdout=subprocess.PIPE, text=True, start_new_session=True
    ) as other:
        assert other.stdout
        assert other.stdout.readline() == "ready\n"
        command = [sys.executable, str(tmp_path / "program.py"), str(other.pid)]
        subprocess.run(command, env=os.environ | {"PYTHONPATH": str(ROOT)}, check=True)
        with ended_with_this_process(other.pid):
            assert other.poll() is None
        other.kill()
