"""True ratings of demo decks, computed once and kept in a file."""

from __future__ import annotations

import hashlib
import json
import shutil
import tempfile
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from correlate.errors import CorrelateError
from correlate.tuning.definition import load_tuning
from correlate.tuning.rating import RunRater
from correlate.tuning.running import DeckWriter
from correlate.tuning.runs import RunTable
from demo_pairs.solver.deck import DeckError
from demo_pairs.solver.run import run_deck

if TYPE_CHECKING:
    from collections.abc import Sequence

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]


class TrueRatings:
    """Runs and rates decks of the demo in this process.

    Parameters
    ----------
    project
        Folder of a built demo that holds a ``tuning.toml``.
    kept
        File of one line per deck, in which what was rated before is found again.
    """

    def __init__(self, project: Path, kept: Path) -> None:
        self.tuning = load_tuning(project)
        self.space = self.tuning.space
        self._kept = kept
        self._decks = DeckWriter(self.tuning)
        self._rater: RunRater | None = None
        lines = kept.read_text(encoding="utf-8").splitlines() if kept.exists() else []
        self._known: dict[str, dict[str, float]] = dict(json.loads(line) for line in lines)

    def __call__(self, point: Floats) -> dict[str, float]:
        """Return the outcomes of a deck; empty when it could not be run or rated.

        Parameters
        ----------
        point
            Shape ``(d,)``, in the units of the parameters.
        """
        text = self._decks.write(self.space.as_values(point), name="point").text
        key = hashlib.sha256(text.encode()).hexdigest()
        if key not in self._known:
            self._known[key] = self._rated(text)
            with self._kept.open("a", encoding="utf-8") as file:
                file.write(json.dumps([key, self._known[key]]) + "\n")
        return self._known[key]

    def _rated(self, text: str) -> dict[str, float]:
        if self._rater is None:
            self._rater = RunRater(self.tuning)
        folder = Path(tempfile.mkdtemp(prefix="tuning-run-"))
        try:
            deck = folder / "model.deck"
            deck.write_text(text, encoding="utf-8")
            run_deck(deck, folder / "output")
            found = self._rater("point", folder / "output")
        except (ArithmeticError, DeckError, CorrelateError):
            return {}
        finally:
            shutil.rmtree(folder)
        return {name: value for name, value in found.items() if not name.startswith("feature/")}

    def table(self, points: Floats, rounds: Sequence[int]) -> RunTable:
        """Run and rate points.

        Parameters
        ----------
        points
            Shape ``(n, d)``.
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
