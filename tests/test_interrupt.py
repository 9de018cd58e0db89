"""Ctrl-C in real processes: one sentence, exit code 130, no traceback, nothing left behind."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from pathlib import Path
from typing import Final

import pytest

from correlate.interrupt import SENTENCE
from tests.campaign.conftest import project
from tests.campaign.slow_project import build
from tests.cli.test_tune import tuned

pytestmark = pytest.mark.skipif(os.name != "posix", reason="the signals of a terminal are those of POSIX")

__all__ = ["project", "tuned"]  # fixtures

ROOT: Final = Path(__file__).parents[1]
PATIENCE_S: Final = 120

from_terminal = pytest.mark.parametrize("whole_group", [True, False], ids=["terminal", "one process"])
"""A terminal tells every process of the group, another program only the one."""


class Started:
    """A command in a session of its own; it and all it starts print a line for every module they load.

    The test waits for such lines, so that Ctrl-C always comes at the same point of the work.
    """

    def __init__(self, *arguments: object, names_modules: bool = True) -> None:
        modules = {"PYTHONPROFILEIMPORTTIME": "1"} if names_modules else {}
        self.process = subprocess.Popen(
            [sys.executable, "-m", *map(str, arguments)],
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
            env={**os.environ, "PYTHONPATH": str(ROOT), "PYTHONUNBUFFERED": "1", **modules},
            cwd=ROOT,
            start_new_session=True,
        )
        self.said: list[str] = []

    def wait_for(self, words: str, times: int = 1) -> None:
        """Read what is printed until these words were printed so many times."""
        assert self.process.stdout is not None
        for line in self.process.stdout:
            self.said.append(line)
            times -= words in line
            if times == 0:
                return
        pytest.fail(f"'{words}' was not printed: {''.join(self._words())}")

    def press(self, *, whole_group: bool) -> tuple[int, list[str]]:
        """Press Ctrl-C; return the exit code and all that was printed beside the names of modules.

        That the output ends shows that every process which could write to it has ended, too.
        """
        if whole_group:
            os.killpg(self.process.pid, signal.SIGINT)
        else:
            self.process.send_signal(signal.SIGINT)
        rest, _ = self.process.communicate(timeout=PATIENCE_S)
        self.said += rest.splitlines(keepends=True)
        return self.process.returncode, self._words()

    def _words(self) -> list[str]:
        # Two processes may write into one line.
        lines = [SENTENCE if SENTENCE in line else line.rstrip("\n") for line in self.said]
        return [line for line in lines if "import time:" not in line and line.strip()]


@pytest.mark.parametrize(
    ("module", "times"),
    [
        ("click._compat", 1),
        ("click.core", 1),
        ("numpy.linalg", 1),
        ("numba.core", 1),
        ("correlate.toml", 1),
        ("correlate.store.scored", 1),
        # In the other processes:
        ("numpy.linalg", 2),
        ("correlate.campaign.scoring", 2),
        # While results are printed:
        ("rich.table", 1),
    ],
)
@from_terminal
def test_scoring(tmp_path: Path, module: str, times: int, *, whole_group: bool) -> None:
    """From the first module that the program loads to the last one, in this process and those beside it."""
    build(tmp_path)
    started = Started("correlate", "score", tmp_path, "--workers", 3)
    started.wait_for(f" {module}\n", times)
    assert started.press(whole_group=whole_group) == (130, [SENTENCE])
    assert not [path for path in tmp_path.iterdir() if path.name.endswith((".part", "-journal"))]


@pytest.mark.parametrize(
    ("module", "times"), [("correlate.cli.entry", 1), ("correlate.formats", 1), ("demo_pairs.laboratory", 2)]
)
@from_terminal
def test_building_the_demo(tmp_path: Path, module: str, times: int, *, whole_group: bool) -> None:
    """In the command, in the builder and in its workers; the folder of what was begun is gone."""
    started = Started("correlate", "demo", "--into", tmp_path / "demo", "--no-serve")
    started.wait_for(f" {module}\n", times)
    assert started.press(whole_group=whole_group) == (130, [SENTENCE])
    assert not [*tmp_path.iterdir()]


PRESSED_WHILE_IT_SAYS_SO = """
import os, signal, sys
from correlate.interrupt import run_program

class Pressing:
    def write(self, text):
        os.kill(os.getpid(), signal.SIGINT)
        return sys.__stderr__.write(text)

    def flush(self):
        sys.__stderr__.flush()

sys.stderr = Pressing()

def work():
    raise KeyboardInterrupt

run_program(work)
"""


def test_a_second_ctrl_c_while_it_ends_is_not_answered_again() -> None:
    """The terminal and the starter of a program both pass it on, sometimes while the sentence is printed."""
    command = [sys.executable, "-c", PRESSED_WHILE_IT_SAYS_SO]
    done = subprocess.run(command, capture_output=True, text=True, check=False, cwd=ROOT)
    assert (done.returncode, done.stderr.split("\n")) == (130, [SENTENCE, ""])


@from_terminal
def test_tuning_runs(tuned: Path, *, whole_group: bool) -> None:
    """The solver is ended with the command, which says that finished runs are kept."""
    gate = tuned / "gate"
    os.mkfifo(gate)
    (tuned / "solver.py").write_text(
        f"import time\nstream = open({str(gate)!r}, 'w')\nstream.write('at work')\nstream.flush()\n"
        "while True:\n    time.sleep(1)\n"
    )
    started = Started("correlate", "tune", "run", tuned, "--at-once", 1, names_modules=False)
    with gate.open() as stream:
        assert stream.read(7) == "at work"
        code, words = started.press(whole_group=whole_group)
        assert not stream.read(), "the solver has ended, and its end of the pipe is closed"
    assert (code, words) == (130, ["stopped; finished runs are kept, and the same command resumes"])


@from_terminal
def test_serving(tmp_path: Path, *, whole_group: bool) -> None:
    """While the program loads, and once it serves."""
    build(tmp_path)
    for words in (" dash.dash\n", "(Ctrl+C ends it)"):
        started = Started("correlate.interrupt", "dashboard", tmp_path)
        started.wait_for(words)
        code, said = started.press(whole_group=whole_group)
        assert (code, said[-1]) == (130, SENTENCE)
        assert not [line for line in said if "Traceback" in line or "Aborted" in line]


def test_a_program_whose_ctrl_c_is_ignored_runs_on() -> None:
    """As a shell starts it in the background."""
    code = (
        "import os, signal\nsignal.signal(signal.SIGINT, signal.SIG_IGN)\n"
        "from correlate.interrupt import run_program\n"
        "run_program(lambda: os.kill(os.getpid(), signal.SIGINT))\nprint('done')\n"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True, cwd=ROOT)
    assert done.stdout == "done\n"


SWALLOWED = """
import os, signal, time
from correlate.interrupt import run_program
class Careless:
    def __del__(self):
        os.kill(os.getpid(), signal.SIGINT)
        for _ in range(1000): pass
def work():
    careless = Careless()
    del careless
    while True:
        time.sleep(0.01)
run_program(work)
"""


def test_ctrl_c_that_an_import_swallows_is_not_lost(tmp_path: Path) -> None:
    """A library that takes whatever stops an import for a part that is not installed."""
    (tmp_path / "careless.py").write_text(
        "try:\n    import slow\nexcept BaseException:\n    slow = None\n", encoding="utf-8"
    )
    (tmp_path / "slow.py").write_text("import os, signal\nos.kill(os.getpid(), signal.SIGINT)\n")
    (tmp_path / "program.py").write_text("import careless, time\nwhile True:\n    time.sleep(0.01)\n")
    done = subprocess.run(
        [sys.executable, "-m", "correlate.interrupt", "program"],
        capture_output=True,
        text=True,
        check=False,
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": f"{ROOT}{os.pathsep}{tmp_path}"},
    )
    assert (done.returncode, done.stderr) == (130, f"{SENTENCE}\n")


def test_ctrl_c_that_python_swallows_is_not_lost() -> None:
    """In a finaliser Python can only report an exception and go on."""
    done = subprocess.run(
        [sys.executable, "-c", SWALLOWED], capture_output=True, text=True, check=False, cwd=ROOT
    )
    assert (done.returncode, done.stderr) == (130, f"{SENTENCE}\n")
