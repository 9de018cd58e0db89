"""What an input may do: be accepted with a valid result, or be refused in one sentence. Nothing else."""

from __future__ import annotations

import faulthandler
import hashlib
import os
import resource
import shutil
import signal
import sys
import time
import traceback
import warnings
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from correlate.errors import CorrelateError
from tests.fuzz.lines import ROOT

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator

SLOWEST_S: Final = 2.0
"""Most seconds of the processor that an input may take."""
_TRACED: Final = 8.0
"""How much slower a traced input may be before it is run again without the tracer."""
LARGEST_GROWTH: Final = 2**28
"""Most bytes that the process may grow by while it reads an input."""
LONGEST_SENTENCE: Final = 40_000
"""Most characters of a refusal, which names every mistake of a file."""
_STUCK_S: Final = 180
"""After so many seconds outside the interpreter the process is ended."""
_LEAKS: Final = ("Traceback", " object at 0x", "<class ", "pydantic", "NoneType", "errno")
_WRITING: Final = frozenset(
    {
        "os.mkdir",
        "os.rename",
        "os.remove",
        "os.rmdir",
        "os.link",
        "os.symlink",
        "os.truncate",
        "shutil.rmtree",
    }
)
_STARTING: Final = frozenset({"subprocess.Popen", "os.system", "socket.connect", "os.exec", "os.posix_spawn"})


class Wrong(Exception):  # noqa: N818 - it is a finding, raised by the check of a result
    """What an accepted input gave is not valid."""


class TooSlow(BaseException):
    """An input takes too long."""


class Watch:
    """Runs inputs below a folder and says what each did that it must not.

    Attributes
    ----------
    folder
        Everything that is read and written lies in it.
    refused
        How many inputs were refused in a sentence.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        self.refused = 0
        self._outside: list[str] = []
        self._listening = False
        self._unraisable: list[str] = []
        sys.addaudithook(self._hear)

    def problem_of(self, run: Callable[[Path], None], files: Path, tracer: Any) -> str:
        """Run an input and return what is wrong, beginning with a word that is alike for equal defects."""
        before = _content(files)
        began, size = time.process_time(), _largest_size()
        with tracer():
            problem = self._run(run, files, SLOWEST_S * _TRACED)
        if time.process_time() - began > SLOWEST_S and not problem:
            problem = self._run(run, files, SLOWEST_S)
        if not problem and _largest_size() - size > LARGEST_GROWTH:
            problem = f"memory: the process grew by {(_largest_size() - size) // 2**20} MiB"
        if not problem and _content(files) != before:
            problem = "input: the files of the input were changed"
        return problem

    def _run(self, run: Callable[[Path], None], files: Path, limit_s: float) -> str:
        self._outside, self._unraisable = [], []
        with self._limits(limit_s):
            try:
                run(files)
                problem = ""
            except CorrelateError as error:
                self.refused += 1
                problem = _fault_of(error)
            except Wrong as error:
                problem = f"result: {error}"
            except TooSlow as error:
                problem = f"slow: more than {limit_s:g} s at {_place(error)}"
            except BaseException as error:
                if isinstance(error, KeyboardInterrupt):
                    raise
                problem = f"{type(error).__name__}: at {_place(error)}: {error}"
        if not problem and self._outside:
            problem = f"outside: {self._outside[0]}"
        if not problem and self._unraisable:
            problem = f"left behind: {self._unraisable[0]}"
        return problem

    @contextmanager
    def _limits(self, limit_s: float) -> Iterator[None]:
        """Turn warnings into errors, watch what is written, and interrupt what takes too long."""
        kept = signal.signal(signal.SIGPROF, _stop), sys.unraisablehook
        faulthandler.dump_traceback_later(_STUCK_S, exit=True)
        sys.unraisablehook = lambda told: self._unraisable.append(repr(told.exc_value))
        self._listening = True
        signal.setitimer(signal.ITIMER_PROF, limit_s)
        try:
            with warnings.catch_warnings():
                warnings.simplefilter("error")
                yield
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0)
            self._listening = False
            sys.unraisablehook = kept[1]
            faulthandler.cancel_dump_traceback_later()
            signal.signal(signal.SIGPROF, kept[0])

    def _hear(self, event: str, arguments: tuple[Any, ...]) -> None:
        """Note what is written outside the folder, and what is started."""
        if not self._listening:
            return
        if event in _STARTING:
            self._outside.append(f"{event} {arguments[0]!r}")
        is_open = event == "open" and len(arguments) == 3 and _is_writing(arguments[1], arguments[2])
        # A name within an open folder tells nothing; the folder was opened or named before.
        is_within = event in _WRITING and any(isinstance(one, int) and one > 2 for one in arguments[-1:])
        if (is_open or event in _WRITING) and isinstance(arguments[0], str | bytes | Path) and not is_within:
            path = Path(os.path.abspath(os.fsdecode(arguments[0])))  # noqa: PTH100 - links stay as they are
            if (
                not path.is_relative_to(self.folder)
                and path != Path(os.devnull)
                and "__pycache__" not in path.parts
            ):
                self._outside.append(f"{event} {path}")


def limit_memory(more: int = 2**30) -> None:
    """Refuse this process more than so many bytes of addresses beyond those that it has."""
    pages = int(Path("/proc/self/statm").read_text(encoding="ascii").split()[0])
    most = pages * resource.getpagesize() + more
    _, hard = resource.getrlimit(resource.RLIMIT_AS)
    resource.setrlimit(resource.RLIMIT_AS, (most, hard))


def empty(folder: Path) -> Path:
    """Return a folder with nothing in it."""
    shutil.rmtree(folder, ignore_errors=True)
    folder.mkdir(parents=True)
    return folder


def _stop(*_: object) -> None:
    raise TooSlow


def _is_writing(mode: Any, flags: Any) -> bool:
    if isinstance(mode, str):
        return any(sign in mode for sign in "wax+")
    return bool(isinstance(flags, int) and flags & (os.O_WRONLY | os.O_RDWR | os.O_CREAT))


def _largest_size() -> int:
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss * 1024


def _content(files: Path) -> dict[str, str]:
    return {
        str(path): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in files.rglob("*")
        if path.is_file()
    }


def _fault_of(error: CorrelateError) -> str:
    """Return what is wrong with a refusal; empty for a good one."""
    said = str(error)
    what = ""
    if not said.isprintable():
        what = "characters that cannot be printed"
    elif len(said) > LONGEST_SENTENCE:
        what = f"{len(said)} characters"
    elif not (error.where or error.remedy):
        what = "neither a place nor a remedy"
    elif leaked := [word for word in _LEAKS if word in said]:
        what = f"'{leaked[0].strip()}'"
    elif not error.what.strip():
        what = "no words"
    return f"sentence: the refusal from {_place(error)} has {what}: {said[:600]!r}" if what else ""


def _place(error: BaseException) -> str:
    """Return the innermost line of the project, tests left out, that an error came from."""
    frames = traceback.extract_tb(error.__traceback__)
    own = [
        frame
        for frame in frames
        if frame.filename.startswith(str(ROOT)) and not frame.filename.startswith(str(ROOT / "tests"))
    ]
    if not frames:
        return "?"
    last = (own or list(frames))[-1]
    return f"{Path(last.filename).relative_to(ROOT) if own else last.filename}:{last.lineno}"
