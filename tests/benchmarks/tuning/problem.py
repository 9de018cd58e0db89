"""A tuning project on disk whose solver runs in this process, and its true ratings, each computed once."""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from correlate.errors import CorrelateError
from correlate.evaluation.tables import Release
from correlate.files import files_of
from correlate.tuning.decks import DeckWriter
from correlate.tuning.definition import load_tuning
from correlate.tuning.rating import RunRater
from correlate.tuning.runs import TRAIN, RunTable
from correlate.tuning.traces import TraceTable, run_traces

if TYPE_CHECKING:
    from collections.abc import Callable, Sequence

    from numpy.typing import NDArray

    from correlate.tuning.traces import TraceChannel

    Floats = NDArray[np.float64]


@dataclass(frozen=True, slots=True, kw_only=True)
class ProblemKind:
    """What makes a problem.

    Attributes
    ----------
    name
        Short name, also of its folder.
    build
        Writes the project into a folder, unless it is there already.
    solve
        Runs the text of a deck and writes the results into a folder.
    """

    name: str
    build: Callable[[Path], object]
    solve: Callable[[str, Path], None]


def fingerprint_of(project: Path) -> str:
    """Return a hash of campaign, tests and releases, on which every rating depends."""
    digest = hashlib.sha256()
    for path in files_of(project):
        name = path.relative_to(project).as_posix()
        if name.startswith(("campaign.toml", "tests/", "laboratory/", "releases/")):
            digest.update(name.encode() + b"\0" + path.read_bytes() + b"\0")
    return digest.hexdigest()


class Problem:
    """Runs and rates decks of a project in this process.

    Parameters
    ----------
    kind
        Of the problem.
    kept
        Folder that holds a folder for each problem: the project, and one line for each rated deck. Several
        processes may share it. A rating is found again as long as tests, campaign and releases are the same;
        changes of the rating itself are not noticed.
    """

    def __init__(self, kind: ProblemKind, kept: Path) -> None:
        self.kind = kind
        self.folder = kept / kind.name
        self.folder.mkdir(parents=True, exist_ok=True)
        kind.build(self.folder / "project")
        self.tuning = load_tuning(self.folder / "project")
        self.space = self.tuning.space
        self.start: Floats = self.space.to_unit(self.space.start_point)
        self.fingerprint = fingerprint_of(self.folder / "project")
        self._decks = DeckWriter(self.tuning)
        self.rater = RunRater(self.tuning)
        self._curves: dict[str, dict[str, tuple[TraceChannel, Floats]]] = {}
        self._lines = self.folder / "ratings.jsonl"
        self._read = 0
        self._known: dict[str, dict[str, float]] = {}

    def __call__(self, point: Floats) -> dict[str, float]:
        """Return the outcomes of a deck; empty when it could not be run or rated.

        Parameters
        ----------
        point
            Shape ``(d,)``, in the units of the parameters.
        """
        key = hashlib.sha256((self.fingerprint + self.deck(point)).encode()).hexdigest()
        if key not in self._known:
            self._read_lines()
        if key not in self._known:
            self._known[key] = self.rated(point)
            line = json.dumps([key, self._known[key]]) + "\n"
            # One unbuffered write, so that lines of several processes do not mix.
            with self._lines.open("ab", buffering=0) as file:
                file.write(line.encode())
        return self._known[key]

    def deck(self, point: Floats) -> str:
        """Return the text of a deck."""
        return self._decks.write(self.space.as_values(point), name="point").text

    def solve(self, point: Floats, output: Path) -> None:
        """Run a deck and leave its results in a folder."""
        self.kind.solve(self.deck(point), output)

    def rate(self, output: Path) -> dict[str, float]:
        """Rate the results in a folder, as the program does."""
        found = self.rater("point", output)
        return {name: value for name, value in found.items() if not name.startswith("feature/")}

    def rated(self, point: Floats) -> dict[str, float]:
        """Run and rate a deck, whether it is known or not."""
        output = Path(tempfile.mkdtemp(prefix="tuning-run-"))
        try:
            self.solve(point, output)
            return self.rate(output)
        except (ArithmeticError, CorrelateError):
            return {}
        finally:
            shutil.rmtree(output)

    def worth(self, cube: Floats) -> float:
        """Return the training rating of a point of the unit cube; nan for a failed run."""
        return self(self.space.from_unit(cube)).get(TRAIN, float("nan"))

    def table(self, points: Floats, rounds: Sequence[int]) -> RunTable:
        """Run and rate points.

        Parameters
        ----------
        points
            Shape ``(n, d)``, in the units of the parameters.
        rounds
            Of each point.

        Returns
        -------
        RunTable
        """
        found = [self(point) for point in points]
        names = list(dict.fromkeys(name for one in found for name in one))
        return RunTable(
            space=self.space,
            points=np.array(points, dtype=np.float64),
            status=tuple("done" if one else "failed" for one in found),
            outcomes={name: np.array([one.get(name, np.nan) for one in found]) for name in names},
            rounds=np.array(rounds, dtype=np.int64),
            identities=tuple(f"P{number:03d}" for number in range(len(points))),
        )

    def traces(self, table: RunTable) -> TraceTable:
        """Return the curves of the finished runs of a table; each is run again once in a process."""
        rows = np.flatnonzero(table.done)
        found = [self._traces(point) for point in table.points[rows]]
        return TraceTable(
            rows=rows,
            cube=self.space.to_unit(table.points[rows]),
            channels=tuple(channel for channel, _ in found[0].values()),
            curves=tuple(np.array([one[name][1] for one in found]) for name in found[0]),
        )

    def _traces(self, point: Floats) -> dict[str, tuple[TraceChannel, Floats]]:
        text = self.deck(point)
        if text not in self._curves:
            with tempfile.TemporaryDirectory(prefix="tuning-run-") as output:
                self.solve(point, Path(output))
                self._curves[text] = dict(run_traces(self.rater, Release(name="point", folder=output)))
        return self._curves[text]

    def _read_lines(self) -> None:
        """Read whole lines that this or another process has added; a line cut short is rated again."""
        if not self._lines.exists():
            return
        with self._lines.open("rb") as file:
            file.seek(self._read)
            added = file.read()
        whole = added[: added.rfind(b"\n") + 1]
        self._read += len(whole)
        for line in whole.splitlines():
            try:
                key, outcomes = json.loads(line)
            except ValueError:
                continue
            self._known[key] = outcomes
