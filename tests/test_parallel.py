"""Processes that are started to share the work."""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from concurrent.futures import Executor, ProcessPoolExecutor, ThreadPoolExecutor
from pathlib import Path
from types import SimpleNamespace
from typing import TYPE_CHECKING

import pytest

from correlate.errors import CorrelateError
from correlate.parallel import WORKERS, has_result, share_out, without_working_folder

if TYPE_CHECKING:
    from collections.abc import Callable

ROOT = Path(__file__).parents[1]

PROGRAM = """
import sys
sys.path[:] = [path for path in sys.path if path]
if __name__ == "__main__":
    import multiprocessing
    from concurrent.futures import ProcessPoolExecutor
    from correlate.parallel import without_working_folder
    with without_working_folder(), ProcessPoolExecutor(1, multiprocessing.get_context("spawn")) as pool:
        print(pool.submit(abs, -7).result())
"""


def test_a_package_in_the_working_folder_is_not_run(tmp_path: Path) -> None:
    """A planted package with the name of one that every worker imports leaves no trace."""
    planted = tmp_path / "received" / "multiprocessing"
    planted.mkdir(parents=True)
    (planted / "__init__.py").write_text("open('planted-code-ran', 'w').close()\n", encoding="utf-8")
    (tmp_path / "program.py").write_text(PROGRAM, encoding="utf-8")
    done = subprocess.run(
        [sys.executable, str(tmp_path / "program.py")],
        cwd=tmp_path / "received",
        env={**os.environ, "PYTHONPATH": str(ROOT)},
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.stdout == "7\n", done.stderr
    assert not (tmp_path / "received" / "planted-code-ran").exists()


def test_the_environment_is_as_it_was_afterwards() -> None:
    """The variable that protects the processes is set only while they start."""
    before = os.environ.get("PYTHONSAFEPATH")
    with without_working_folder():
        assert os.environ["PYTHONSAFEPATH"] == "1"
    assert os.environ.get("PYTHONSAFEPATH") == before


@pytest.mark.parametrize(
    ("status", "there"),
    [("finished", True), ("pending", True), ("error", False), ("cancelled", False), ("lost", False)],
)
def test_a_lost_result_that_is_computed_again_is_waited_for(status: str, *, there: bool) -> None:
    """A worker that dies after its task and before the result is fetched makes the task pending again."""
    assert has_result(SimpleNamespace(status=status)) is there


def test_a_lost_process_is_one_sentence() -> None:
    """What was finished before comes; then the end of a process is said with its remedy, not with a trace."""
    with ThreadPoolExecutor(1) as here, ProcessPoolExecutor(1, mp_context=WORKERS) as beside:
        tasks = iter([1, int(signal.SIGTERM)])
        workers: list[tuple[Executor, Callable[[int], object]]] = [(here, abs), (beside, signal.raise_signal)]
        with pytest.raises(CorrelateError, match=r"ended early \(killed, or out of memory\); fini"):
            list(share_out(lambda _: next(tasks, None), workers, ahead=0))


def test_a_worker_that_got_nothing_is_asked_for_again() -> None:
    """A second worker for which there is no task at first gets one once the first has finished its own."""
    left = [1, 2, 3]
    done: list[tuple[str, int]] = []

    def take(worker: int) -> int | None:
        return left.pop(0) if left and (worker == 0 or done) else None

    def work(name: str) -> Callable[[int], None]:
        return lambda task: done.append((name, task))

    with ThreadPoolExecutor(1) as one, ThreadPoolExecutor(1) as other:
        found = [task for task, _ in share_out(take, [(one, work("one")), (other, work("other"))], ahead=0)]
    assert sorted(found) == [1, 2, 3]
    assert done[0] == ("one", 1)
    assert {name for name, _ in done} == {"one", "other"}
