"""Run the tests of a package against one fault after another, in a copy of the tree."""

from __future__ import annotations

import ast
import contextlib
import json
import math
import multiprocessing
import os
import resource
import shutil
import signal
import sys
import tempfile
import time
from dataclasses import dataclass, field
from multiprocessing.connection import wait
from pathlib import Path
from typing import TYPE_CHECKING, Final, Literal

import coverage
import pytest

if TYPE_CHECKING:
    from collections.abc import Iterator, Sequence
    from types import TracebackType
    from typing import Self

    from tests.mutation.mutants import Mutant

Verdict = Literal["killed", "timed out", "survived"]
ROOT: Final = Path(__file__).parents[2]
LEAST_LIMIT_S: Final = 10.0
"""Shortest time limit of one fault, on the processor."""
LIMIT_TIMES: Final = 3.0
"""Time limit of one fault, in times of what its tests need without it."""
WAITING_TIMES: Final = 20.0
"""Longest wait for a fault that needs no processor, in times of its limit."""
COMPILATION_S: Final = 180.0
"""Further time for a fault in a compiled function."""
ROOM: Final = 400
"""Bytes behind the end of each source, so that a fault does not change the size of the file."""
_FORK: Final = multiprocessing.get_context("fork")


class _Watch:
    """Plug-in that leaves out tests and notes what each file of tests needs and reaches."""

    def __init__(self, left_out: frozenset[str], cover: coverage.Coverage | None) -> None:
        self.left_out = left_out
        self.cover = cover
        self.seconds: dict[str, float] = {}
        self.failed: set[str] = set()

    def pytest_collection_modifyitems(self, items: list[pytest.Item]) -> None:
        items[:] = [item for item in items if item.nodeid not in self.left_out]

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        if self.cover is not None:
            self.cover.switch_context(item.nodeid.split("::", maxsplit=1)[0])
        # Of the processor, so that it does not depend on what else the machine does; fixtures included.
        began = time.process_time()
        try:
            return (yield)
        finally:
            self.seconds[item.nodeid] = time.process_time() - began

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        if report.failed:
            self.failed.add(report.nodeid)


@dataclass(slots=True)
class Baseline:
    """What the tests do without a fault.

    Attributes
    ----------
    seconds
        Of each test.
    reaching
        Files of tests by ``file:line`` of the source.
    """

    seconds: dict[str, float] = field(default_factory=dict)
    reaching: dict[str, list[str]] = field(default_factory=dict)

    def files(self) -> dict[str, float]:
        """Return the files of tests with their seconds, fastest first."""
        total: dict[str, float] = {}
        for name, seconds in self.seconds.items():
            file = name.split("::", maxsplit=1)[0]
            total[file] = total.get(file, 0.0) + seconds
        return dict(sorted(total.items(), key=lambda one: one[1]))


class Workshop:
    """A copy of the tree in which the tests of one package run.

    Parameters
    ----------
    sources
        Files that get faults, relative to the root of the tree.
    tests
        Folders of tests, relative to the root.
    budget_s
        Seconds of all tests together; the slowest files beyond are left out.
    longest_s
        Tests that take longer are left out.
    """

    def __init__(
        self, sources: Sequence[str], tests: Sequence[str], *, budget_s: float, longest_s: float
    ) -> None:
        self.sources = sources
        self.tests = tests
        self.budget_s = budget_s
        self.longest_s = longest_s
        self.left_out: frozenset[str] = frozenset()
        self.failing: frozenset[str] = frozenset()
        self.baseline = Baseline()
        self.originals: dict[str, bytes] = {}
        self._stamp_ns = time.time_ns() - 10**10

    def __enter__(self) -> Self:
        """Make the copy and run the tests once without a fault."""
        self._folder = tempfile.TemporaryDirectory(prefix="mutation-")
        self.tree = Path(self._folder.name) / "tree"
        self._log = Path(self._folder.name) / "log"
        unwanted = shutil.ignore_patterns(".*", "build", "dist", "*.egg-info", "__pycache__", "*.sqlite")
        shutil.copytree(ROOT, self.tree, ignore=unwanted)
        for name in self.sources:
            self.originals[name] = (self.tree / name).read_bytes()
            self._write(name, self.originals[name])
        self._run_baseline()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, value: BaseException | None, trace: TracebackType | None
    ) -> None:
        """Remove the copy."""
        self._folder.cleanup()

    def judge(self, mutant: Mutant) -> Verdict:
        """Run the files of tests that reach a fault until one test fails.

        Where a fault stands in a line that runs while its module is imported, or in one that no test is
        seen to run, that is every file.

        Parameters
        ----------
        mutant
            In one of the sources.

        Returns
        -------
        Verdict
        """
        seconds = self.baseline.files()
        lines = range(mutant.line, mutant.line + mutant.before.count("\n") + 1)
        found = [self.baseline.reaching.get(f"{mutant.file}:{line}", []) for line in lines]
        files = [file for file in seconds if any(file in one or "" in one for one in found)]
        if mutant.compiled or not files:
            # Nobody sees what machine code and processes of their own run.
            files = list(seconds)
        limit_s = LEAST_LIMIT_S + LIMIT_TIMES * sum(seconds[file] for file in files)
        if mutant.compiled:
            limit_s += COMPILATION_S
        source = mutant.apply(self.originals[mutant.file])
        # One that is no Python would be killed by every test.
        ast.parse(source)
        self._write(mutant.file, source)
        with tempfile.TemporaryDirectory(prefix="mutation-") as cache:
            environment = {"NUMBA_CACHE_DIR": cache} if mutant.compiled else {}
            try:
                code = self._fork(files, environment, limit_s=limit_s)
            finally:
                self._write(mutant.file, self.originals[mutant.file])
        if code is None:
            return "timed out"
        return "survived" if code == 0 else "killed"

    def _write(self, name: str, source: bytes) -> None:
        """Write a source at the size and time of the original, so that kept machine code stays valid."""
        path = self.tree / name
        size = len(self.originals[name]) + ROOM
        path.write_bytes(source + b"\n#" + b"." * (size - len(source) - 2))
        os.utime(path, ns=(self._stamp_ns, self._stamp_ns))

    def _run_baseline(self) -> None:
        report = Path(self._folder.name) / "baseline.json"
        # Twice: what is compiled or built at the first call is no part of what a test needs.
        for covered in (False, True):
            code = self._fork(self.tests, {}, limit_s=3600.0, report=report, covered=covered)
            if code not in {pytest.ExitCode.OK, pytest.ExitCode.TESTS_FAILED} or not report.is_file():
                sys.exit(f"{self._log.read_text()[-4000:]}\n{', '.join(self.tests)} cannot be run")
            found = json.loads(report.read_text(encoding="utf-8"))
            self.baseline = Baseline(found["seconds"], found["reaching"])
            self.failing |= frozenset(found["failed"])
            self.left_out = self.failing
        self.left_out |= self._too_slow()

    def _too_slow(self) -> frozenset[str]:
        """Return the tests of the slowest files, behind the longest tests of each file."""
        slow = {name for name, seconds in self.baseline.seconds.items() if seconds > self.longest_s}
        kept = Baseline({name: one for name, one in self.baseline.seconds.items() if name not in slow})
        total = 0.0
        for file, seconds in kept.files().items():
            total += seconds
            if total > self.budget_s:
                slow |= {name for name in kept.seconds if name.startswith(f"{file}::")}
        return frozenset(slow)

    def _fork(
        self,
        tests: Sequence[str],
        environment: dict[str, str],
        *,
        limit_s: float,
        report: Path | None = None,
        covered: bool = False,
    ) -> int | None:
        """Run tests in a process of their own; None when the time is over."""
        process = _FORK.Process(target=self._child, args=(tests, environment, limit_s, report, covered))
        process.start()
        assert process.pid is not None
        over = not wait([process.sentinel], timeout=WAITING_TIMES * limit_s)
        # The group too, since tests start processes of their own; the number is ours until it is joined.
        with contextlib.suppress(ProcessLookupError):
            os.killpg(process.pid, signal.SIGKILL)
        process.join()
        return None if over or process.exitcode == -signal.SIGXCPU else process.exitcode

    def _child(
        self,
        tests: Sequence[str],
        environment: dict[str, str],
        limit_s: float,
        report: Path | None,
        covered: bool,  # noqa: FBT001 (a process takes positional arguments)
    ) -> None:
        os.setsid()
        resource.setrlimit(resource.RLIMIT_CPU, (math.ceil(limit_s), math.ceil(limit_s) + 5))
        output = os.open(self._log, os.O_WRONLY | os.O_CREAT | os.O_TRUNC)
        os.dup2(output, 1)
        os.dup2(output, 2)
        os.chdir(self.tree)
        os.environ |= {
            "PYTHONPATH": str(self.tree),
            "PYTHONDONTWRITEBYTECODE": "1",
            "PYTEST_DISABLE_PLUGIN_AUTOLOAD": "1",
            **environment,
        }
        sys.dont_write_bytecode = True
        sys.path[:] = [str(self.tree), *(one for one in sys.path if one and Path(one).resolve() != ROOT)]
        for name in [name for name in sys.modules if name.split(".", maxsplit=1)[0] == "tests"]:
            del sys.modules[name]
        cover = None
        if covered:
            sources = [str(self.tree / name) for name in self.sources]
            cover = coverage.Coverage(data_file=None, include=sources, config_file=False)
            cover.start()
        watch = _Watch(self.left_out, cover)
        stop = [] if report is not None else ["-x"]
        code = pytest.main([*_OPTIONS, *stop, *tests], plugins=[watch])
        if cover is not None:
            cover.stop()
        if report is not None:
            reaching = _reaching(cover, self.tree) if cover is not None else {}
            report.write_text(
                json.dumps({"seconds": watch.seconds, "reaching": reaching, "failed": [*watch.failed]}),
                encoding="utf-8",
            )
        sys.stdout.flush()
        os._exit(int(code))


_OPTIONS: Final = (
    "-q",
    "--tb=short",
    "--override-ini=addopts=--import-mode=importlib --doctest-modules",
    "-pno:cacheprovider",
    "-p_hypothesis_pytestplugin",
)


def _reaching(cover: coverage.Coverage, tree: Path) -> dict[str, list[str]]:
    """Return the files of tests that run each line; an empty name where it runs while tests are collected."""
    data = cover.get_data()
    found: dict[str, list[str]] = {}
    for file in data.measured_files():
        name = Path(file).relative_to(tree).as_posix()
        for line, contexts in data.contexts_by_lineno(file).items():
            found[f"{name}:{line}"] = sorted(contexts)
    return found
