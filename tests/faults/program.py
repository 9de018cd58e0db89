"""A program that runs commands in forked processes, and kills or disturbs them at a step or at a moment.

It reads orders, one JSON object a line, and answers each with a line. It forks for each, so that Python and
the libraries are loaded once and not once a command.
"""

from __future__ import annotations

import json
import os
import select
import signal
import sys
import time
from contextlib import suppress
from dataclasses import asdict, dataclass
from importlib import import_module
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any, Final

MARK: Final = "CORRELATE_TEST_ROUND"
"""Environment variable by which everything that a command starts is found again."""

LONGEST_S: Final = 300.0
"""For which a command may run before it counts as hung and is ended."""

HUNG: Final = 124
"""Its exit code then."""


@dataclass(frozen=True, kw_only=True)
class Order:
    """A command to run.

    Attributes
    ----------
    words
        Program and arguments: ``correlate …``, ``open STORE``, ``accounts DATABASE``, or
        ``jobs PROJECT FOLDER`` for the worker of the dashboard.
    folder
        Working folder; steps are counted in it.
    mark
        Of the round.
    fault, at_step
        What happens before the step of this number, see `tests.faults.steps`; 0 for nothing.
    whom, after_s, pick
        Who is killed after so many seconds: ``main``, ``child`` or ``group``; ``pick`` from 0 to 1 chooses
        among several children. Nobody when empty.
    largest_file
        Bytes that no file may exceed; 0 for no limit.
    """

    words: list[str]
    folder: str
    mark: str
    fault: str = ""
    at_step: int = 0
    whom: str = ""
    after_s: float = 0.0
    pick: float = 0.0
    largest_file: int = 0


@dataclass(frozen=True, kw_only=True)
class Outcome:
    """How a command ended.

    Attributes
    ----------
    code
        Exit code; minus the signal where one ended it.
    steps
        That were counted; 0 where it was killed.
    seconds
        That it took.
    struck
        Whether somebody was killed while the command ran.
    out, err
        What it wrote.
    """

    code: int
    steps: int
    seconds: float
    struck: bool
    out: str
    err: str


def marked(mark: str) -> list[int]:
    """Return the processes that carry the mark of a round in their environment."""
    wanted = f"{MARK}={mark}".encode()
    found = []
    for place in Path("/proc").iterdir():
        if place.name.isdigit():
            try:
                if wanted in (place / "environ").read_bytes().split(b"\0"):
                    found.append(int(place.name))
            except OSError:
                continue
    return found


def command_line(process: int) -> bytes:
    """Return what a process was started with; empty when it has ended."""
    try:
        return Path(f"/proc/{process}/cmdline").read_bytes()
    except OSError:
        return b""


def main() -> None:
    """Follow orders until there are no more."""
    from correlate.cli import entry  # noqa: PLC0415 - loaded once, before the forks

    for module in (*(name for name, _ in entry._COMMANDS.values()), "dashboard.jobs.__main__", "psycopg"):
        import_module(module)
    _load_kernels()
    for line in sys.stdin:
        print(json.dumps(asdict(_follow(Order(**json.loads(line))))), flush=True)


def _load_kernels() -> None:
    """Rate something, so that the compiled functions are loaded once and not once a command."""
    from tests.faults import projects  # noqa: PLC0415

    with TemporaryDirectory(prefix="correlate-faults-") as place:
        projects.rated(Path(place))


def _follow(order: Order) -> Outcome:
    reading_end, writing_end = os.pipe()
    said = [Path(order.folder).parent / name for name in ("out.txt", "err.txt")]
    for place in said:
        place.write_text("", encoding="utf-8")
    begun = time.monotonic()
    child = os.fork()
    if child == 0:
        os.close(reading_end)
        _become(order, writing_end, said)
    os.close(writing_end)
    struck = False
    if order.whom:
        select.select([reading_end], [], [], order.after_s)
        struck = _strike(order, child)
    code, killed_by_step = _end_of(child, begun)
    with os.fdopen(reading_end, "rb") as progress:
        steps = int(progress.read() or b"0")
    return Outcome(
        code=code,
        steps=steps,
        seconds=time.monotonic() - begun,
        struck=struck or killed_by_step,
        out=said[0].read_text(errors="replace"),
        err=said[1].read_text(errors="replace"),
    )


def _strike(order: Order, child: int) -> bool:
    """Kill whom the order names; say whether there was somebody to kill."""
    if os.waitid(os.P_PID, child, os.WEXITED | os.WNOHANG | os.WNOWAIT) is not None:
        return False
    if order.whom == "main":
        os.kill(child, signal.SIGKILL)
        return True
    others = sorted(set(marked(order.mark)) - {child})
    if order.whom == "child":
        # The helper of the library that counts shared memory is no part of the work.
        others = [one for one in others if b"resource_tracker" not in command_line(one)]
        if not others:
            return False
        others = [others[int(order.pick * len(others))]]
    else:
        # Its group is its own a moment after it was forked.
        with suppress(ProcessLookupError):
            os.killpg(child, signal.SIGKILL)
        others.append(child)
    for one in others:
        with suppress(ProcessLookupError):
            os.kill(one, signal.SIGKILL)
    return True


def _end_of(child: int, begun: float) -> tuple[int, bool]:
    """Wait for the end of a command; return its exit code and whether a signal ended it."""
    while True:
        found, status = os.waitpid(child, os.WNOHANG)
        if found:
            return os.waitstatus_to_exitcode(status), os.WIFSIGNALED(status)
        if time.monotonic() - begun > LONGEST_S:
            os.killpg(child, signal.SIGKILL)
            os.waitpid(child, 0)
            return HUNG, False
        time.sleep(0.005)


def _become(order: Order, progress: int, said: list[Path]) -> None:
    """Run the command in the forked process, write the number of its steps, and never return."""
    from tests.faults import steps  # noqa: PLC0415 - in the forked process only

    code = 70
    try:
        os.setsid()
        os.chdir(order.folder)
        os.environ[MARK] = order.mark
        for descriptor, place in enumerate([Path("/dev/null"), *said]):
            os.dup2(os.open(place, os.O_WRONLY if descriptor else os.O_RDONLY), descriptor)
        sys.argv = order.words
        counted = steps.watch(order)
        code = _run(order.words)
        os.write(progress, str(counted()).encode())
    except BaseException:  # noqa: BLE001 - shown, whatever it is
        sys.excepthook(*sys.exc_info())
    finally:
        sys.stdout.flush()
        sys.stderr.flush()
        os._exit(code)


def _run(words: list[str]) -> int:
    """Run a program; return its exit code."""
    programs: dict[str, Any] = {"correlate": _correlate, "jobs": _jobs, "open": _open, "accounts": _accounts}
    from correlate import CorrelateError  # noqa: PLC0415

    try:
        programs[words[0]]()
    except SystemExit as stop:
        return stop.code if isinstance(stop.code, int) else int(stop.code is not None)
    except CorrelateError as error:
        print(error, file=sys.stderr)
        return 2
    return 0


def _correlate() -> None:
    from correlate.cli import program  # noqa: PLC0415

    program()


def _open() -> None:
    """Open a store, as every command does first, which brings an old one up to date."""
    from correlate import open_store  # noqa: PLC0415

    open_store(sys.argv[1]).close()


def _accounts() -> None:
    """Open an accounts database, as every server does first."""
    from dashboard.accounts import open_accounts  # noqa: PLC0415

    open_accounts(sys.argv[1]).dispose()


def _jobs() -> None:
    """Run the worker of the dashboard until no job waits or runs."""
    import threading  # noqa: PLC0415

    from dashboard.jobs.__main__ import work  # noqa: PLC0415
    from dashboard.jobs.table import JobTable  # noqa: PLC0415
    from dashboard.jobs.worker import JobSettings  # noqa: PLC0415

    project, folder = map(Path, sys.argv[1:])

    def end_when_done() -> None:
        table = JobTable(folder)
        while table.open_jobs():
            time.sleep(0.02)
        os.kill(os.getpid(), signal.SIGTERM)

    threading.Thread(target=end_when_done, daemon=True).start()
    work(JobSettings(project=project), folder, at_once=1, with_parent=False)


if __name__ == "__main__":
    main()
