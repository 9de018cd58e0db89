"""Rounds: a command is killed, what it left is looked at, and it is run again to its end.

Each round begins with the same project at the same path. What holds afterwards is in `Round.broken`:

- every file is as it was before or as it is at the end of an undisturbed command, whole;
- databases pass their own checks and hold whole records only, none twice, none lost;
- nothing that the command started goes on running;
- the same command, given again, ends as if nothing had happened, and no temporary file is left.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import signal
import subprocess
import sys
import time
import uuid
from contextlib import contextmanager, suppress
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import TYPE_CHECKING, Any, Final

from tests.faults.program import HUNG, LONGEST_S, Order, Outcome, command_line, marked
from tests.faults.snapshot import Snapshot, snapshot

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.faults.operations import Operation

ROOT: Final = Path(__file__).parents[2]
QUIET_S: Final = 15.0
"""Within which everything that a killed command started must have ended."""


class Program:
    """The program that runs commands, from outside.

    Parameters
    ----------
    process
        With open pipes.
    """

    def __init__(self, process: subprocess.Popen[str]) -> None:
        self._process = process

    def run(self, **words: Any) -> Outcome:
        """Run a command; see `Order`."""
        assert self._process.stdin is not None
        assert self._process.stdout is not None
        self._process.stdin.write(json.dumps(asdict(Order(**words))) + "\n")
        self._process.stdin.flush()
        return Outcome(**json.loads(self._process.stdout.readline()))


@contextmanager
def running_program() -> Iterator[Program]:
    """Start the program, and end it after the block."""
    environment = {**os.environ, "PYTHONPATH": str(ROOT), "OPENBLAS_NUM_THREADS": "1", "OMP_NUM_THREADS": "1"}
    command = [sys.executable, "-m", "tests.faults.program"]
    pipe = subprocess.PIPE
    with subprocess.Popen(command, stdin=pipe, stdout=pipe, text=True, env=environment, cwd=ROOT) as process:
        yield Program(process)
        assert process.stdin is not None
        process.stdin.close()
        assert process.wait(30) == 0


@dataclass(frozen=True, kw_only=True)
class Round:
    """One round.

    Attributes
    ----------
    how
        Who was killed, and when.
    killed
        Whether that was while the command ran.
    broken
        What should have held and did not, one sentence each.
    """

    how: str
    killed: bool
    broken: tuple[str, ...]


@dataclass
class Bench:
    """An operation, and the folder in which it is done again and again.

    Parameters
    ----------
    program
        Runs the commands.
    operation
        What is done.
    place
        An empty folder.
    """

    program: Program
    operation: Operation
    place: Path
    steps: int = 0
    seconds: float = 0.0
    before: Snapshot = field(init=False)
    after: Snapshot = field(init=False)

    def __post_init__(self) -> None:
        """Build the project, and do the operation once without a fault."""
        self._kept = self.place / "kept"
        self._kept.mkdir()
        self.operation.build(self._kept)
        self.folder = self.place / "work" / "project"
        with self.operation.address() as self.address:
            self._begin()
            self.before = self._look()
            self.operation.ready(self.folder)
            undisturbed = self._run(self.operation.words)
            assert undisturbed.code in self.operation.good, f"{undisturbed.code}: {undisturbed.err}"
            assert not (alive := self._still_running()), f"undisturbed, {alive} go on running"
            self.steps, self.seconds = undisturbed.steps, undisturbed.seconds
            self.after = self._look()

    def at_step(self, step: int, fault: str) -> Round:
        """Kill the command before a step."""
        return self._round(f"{fault} before step {step} of {self.steps}", fault=fault, at_step=step)

    def at_moment(self, share: float, whom: str, pick: float) -> Round:
        """Kill somebody after a share of the usual time."""
        after_s = share * self.seconds
        return self._round(f"{whom} killed after {after_s:.3f} s", whom=whom, after_s=after_s, pick=pick)

    def with_largest_file(self, size: int) -> Round:
        """Let no file grow beyond so many bytes, as on a disk that is full."""
        return self._round(f"files of at most {size} bytes", largest_file=size)

    def disturbed(self, rounds: int, seed: int, fault: str) -> Iterator[Round]:
        """Do rounds in which something else happens before a drawn step; see `Order`."""
        draw = random.Random(f"{self.operation.name} {seed} {fault}")  # noqa: S311 - steps, not secrets
        for step in sorted(_spread(rounds, self.steps, draw)):
            yield self.at_step(step, fault)

    def drawn(self, rounds: int, seed: int) -> Iterator[Round]:
        """Do rounds in which somebody is killed, half at steps and half at moments, all of them drawn."""
        draw = random.Random(f"{self.operation.name} {seed}")  # noqa: S311 - moments, not secrets
        at_steps = (rounds + 1) // 2 if self.steps else 0
        for step in sorted(_spread(at_steps, self.steps, draw)):
            yield self.at_step(step, draw.choice(("kill", "kill group")))
        for _ in range(rounds - at_steps):
            whom = draw.choice(self.operation.victims)
            yield self.at_moment(draw.random(), whom, draw.random())

    def _round(self, how: str, **fault: Any) -> Round:
        with self.operation.address() as self.address:
            self._begin()
            self.operation.ready(self.folder)
            struck = self._run(self.operation.words, **fault)
            broken = [f"{one} goes on running" for one in self._still_running()]
            child_only = struck.code >= 0
            broken += self._complaints(struck) if child_only else []
            broken += self._attempt(self._half_done)
            self.operation.ready(self.folder)
            again = self._run(self.operation.again or self.operation.words)
            broken += [f"{one} goes on running at the end" for one in self._still_running()]
            broken += self._attempt(lambda: self._at_end(again))
        return Round(how=how, killed=struck.struck, broken=tuple(broken))

    def _begin(self) -> None:
        self._mark = uuid.uuid4().hex
        shutil.rmtree(self.folder.parent, ignore_errors=True)
        shutil.copytree(self._kept, self.folder, symlinks=True)

    def _run(self, command: tuple[str, ...], **fault: Any) -> Outcome:
        words = [word.replace("STORE", self.address) for word in command]
        return self.program.run(words=words, folder=str(self.folder), mark=self._mark, **fault)

    def _look(self) -> Snapshot:
        return snapshot(self.folder, self.operation.normal, self.address)

    @staticmethod
    def _attempt(look: Any) -> list[str]:
        """Return what a look finds broken; one that fails is a find, too."""
        try:
            return list(look())
        except Exception as error:  # noqa: BLE001 - whatever is wrong with the files
            return [f"what is left cannot be read: {type(error).__name__}: {error}"]

    def _still_running(self) -> list[str]:
        """Wait for the end of what a command started; return what does not end, after ending it."""
        end = time.monotonic() + QUIET_S
        while (alive := marked(self._mark)) and time.monotonic() < end:
            time.sleep(0.02)
        words = []
        for one in alive:
            with suppress(OSError):
                words.append(command_line(one).replace(b"\0", b" ").decode(errors="replace")[:150])
                os.kill(one, signal.SIGKILL)
        return words

    def _complaints(self, outcome: Outcome) -> Iterator[str]:
        """Find tracebacks, an end without a word, and none."""
        if outcome.code == HUNG:
            yield f"it hangs for {LONGEST_S:g} s"
        if "Traceback" in outcome.err:
            yield f"a traceback: {outcome.err[-400:]}"
        if outcome.code not in self.operation.good and not outcome.err.strip():
            yield f"exit code {outcome.code} without a word"

    def _half_done(self) -> Iterator[str]:
        """Compare what a killed command left with the states before and after."""
        found = self._look()
        for name, content in found.files.items():
            if self.operation.is_temporary(name):
                continue
            whole = [state.files[name] for state in (self.before, self.after) if name in state.files]
            if content not in whole:
                yield f"'{name}' is neither old nor new after the kill"
        both = self.before.files.keys() & self.after.files.keys()
        yield from (f"'{name}' is lost after the kill" for name in sorted(both - found.files.keys()))
        for table, rows in found.rows.items():
            known = [*self.before.rows.get(table, []), *self.after.rows.get(table, [])]
            strange = [row for row in rows if row not in known]
            if strange and not self.operation.is_temporary(table):
                yield f"{table} has a row that no undisturbed command writes: {strange[0][:200]}"
            if len(rows) > len(set(rows)) and not self.operation.is_temporary(table):
                yield f"{table} has a row twice after the kill"
        yield from self.operation.also(self.folder)

    def _at_end(self, again: Outcome) -> Iterator[str]:
        """Compare what is there after the next run with what an undisturbed command leaves."""
        yield from self._complaints(again)
        if again.code not in {*self.operation.good, *self.operation.already}:
            yield f"the next run ends with exit code {again.code}: {again.err[-300:]}"
        found = self._look()
        yield from self.operation.at_end(self.folder)
        left = found.files.keys() - self.after.files.keys()
        for name in sorted(left):
            # Of a folder, not everything in it.
            if name.rpartition("/")[0] not in left:
                yield f"'{name}' is left over after the next run"
        for name, content in self.after.files.items():
            if name not in found.files:
                yield f"'{name}' is missing after the next run ({again.code}, {again.err[-200:]})"
            elif found.files[name] != content:
                yield f"'{name}' differs after the next run"
        for table, rows in self.after.rows.items():
            if found.rows.get(table) != rows and table not in self.operation.loose:
                yield f"{table} differs: {len(found.rows.get(table, []))} rows, {len(rows)} expected"


def _spread(count: int, steps: int, draw: random.Random) -> list[int]:
    """Draw steps, one from each of so many equal parts."""
    if count >= steps:
        return list(range(1, steps + 1))
    return [1 + int((part + draw.random()) * steps / count) for part in range(count)]
