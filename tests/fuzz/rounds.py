"""Rounds of a target: mutate, run, keep what reaches new lines, report what must not happen."""

from __future__ import annotations

import hashlib
import json
import time
from contextlib import nullcontext
from dataclasses import asdict, dataclass, field
from random import Random
from typing import TYPE_CHECKING, Final

from tests.fuzz.lines import Lines
from tests.fuzz.mutations import Case, mutated
from tests.fuzz.watching import Watch, empty, limit_memory

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


def write_files(case: Case, folder: Path) -> None:
    """Write the files of a case as they are."""
    for name, content in case.items():
        path = folder / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(content)


@dataclass(frozen=True, kw_only=True)
class Target:
    """A reader, and how inputs are made for it.

    Attributes
    ----------
    name
        As on the command line.
    seeds
        Makes valid cases; the folder may be used for it.
    run
        Reads the files of a folder. It raises `CorrelateError` where they are refused and `Wrong` where what
        was accepted is not valid. It may write into the folder ``out`` beside that of the files.
    traced
        What the paths of the modules under test begin with, within the project.
    inputs
        How many inputs the test suite tries.
    fixed
        Files that are never mutated.
    assemble
        Writes a case into a folder, for instance with the hashes that belong to it.
    """

    name: str
    seeds: Callable[[Path], list[Case]]
    run: Callable[[Path], None]
    traced: tuple[str, ...]
    inputs: int = 100
    fixed: frozenset[str] = frozenset()
    assemble: Callable[[Case, Path], None] = write_files


@dataclass(kw_only=True)
class Told:
    """What a round did.

    Attributes
    ----------
    target
        Its name.
    inputs, refused, kept
        How many inputs ran, were refused in a sentence, and reached new lines.
    lines
        Lines of the modules under test that were reached.
    seconds
        Time of the processor.
    findings
        What must not happen, by the folder of the input.
    """

    target: str
    inputs: int = 0
    refused: int = 0
    kept: int = 0
    lines: int = 0
    seconds: float = 0.0
    findings: dict[str, str] = field(default_factory=dict)

    def line(self) -> str:
        """Return it as one line of JSON."""
        return json.dumps(asdict(self), ensure_ascii=False)


class UnusableSeedError(Exception):
    """A seed that its own target refuses, so that nothing is tested."""


_MOST_FINDINGS: Final = 20


class Round:
    """The state of a target while its inputs are tried."""

    def __init__(self, target: Target, folder: Path, *, seed: int, save: Path) -> None:
        self.target = target
        self.told = Told(target=target.name)
        self._folder = folder
        self._save = save
        self._random = Random(f"{seed}:{target.name}")  # noqa: S311 - repeatable, not secret
        self._watch = Watch(folder)
        self._lines = Lines(target.traced)
        self._corpus: list[Case] = []
        self._known: set[str] = set()

    def prepare(self, *, memory: bool) -> None:
        """Make the seeds and run each; all must be accepted."""
        self._corpus = self.target.seeds(empty(self._folder / "seeds"))
        for case in self._corpus:
            # Unwatched at first: compiled functions are loaded, which starts programs and writes caches.
            said = self._refusal(case)
            problem = self._tried(case, self._lines.traced)
            if problem or said != "accepted":
                raise UnusableSeedError(f"{self.target.name}: {problem or said}")
        if memory:
            limit_memory()

    def run(self, inputs: int, until: float) -> Told:
        """Try so many inputs, or fewer where a moment of the monotonic clock passes."""
        began, refused = time.process_time(), self._watch.refused
        while self.told.inputs < inputs and time.monotonic() < until:
            case = mutated(self._random.choice(self._corpus), self._corpus, self._random, self.target.fixed)
            reached = len(self._lines)
            problem = self._tried(case, self._lines.traced)
            self.told.inputs += 1
            if problem:
                self._note(case, problem)
            elif len(self._lines) > reached:
                self._corpus.append(case)
                self.told.kept += 1
            if len(self.told.findings) >= _MOST_FINDINGS:
                break
        self.told.refused = self._watch.refused - refused
        self.told.lines = len(self._lines)
        self.told.seconds = round(time.process_time() - began, 1)
        return self.told

    def replay(self, case: Case) -> str:
        """Run one case and return what is wrong with it, or the sentence that refuses it."""
        return self._tried(case, nullcontext) or self._refusal(case)

    def _tried(self, case: Case, tracer: Callable[[], object]) -> str:
        files = empty(self._folder / "in")
        empty(self._folder / "out")
        self.target.assemble(case, files)
        return self._watch.problem_of(self.target.run, files, tracer)

    def _refusal(self, case: Case) -> str:
        from correlate.errors import CorrelateError  # noqa: PLC0415 - after the limits are set

        files = empty(self._folder / "in")
        empty(self._folder / "out")
        self.target.assemble(case, files)
        try:
            self.target.run(files)
        except CorrelateError as error:
            return f"refused: {error}"
        return "accepted"

    def _note(self, case: Case, problem: str) -> None:
        """Save the input of a finding, one of each kind and place."""
        kind = ":".join(problem.split(":")[:3])
        if kind in self._known:
            return
        self._known.add(kind)
        digest = hashlib.sha256(repr(sorted(case.items())).encode()).hexdigest()[:12]
        folder = self._save / self.target.name / digest
        write_files(case, empty(folder))
        self.told.findings[str(folder)] = problem
