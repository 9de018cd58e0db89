"""The demo project: twelve cards, from release A1; its solver integrates in compiled code."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Final

from demo_pairs.build import BuildSelection, build
from demo_pairs.solver.deck import DeckError
from demo_pairs.solver.run import run_deck
from tests.benchmarks.tuning.demo_steps import compiled_steps
from tests.benchmarks.tuning.problem import ProblemKind


def build_demo(folder: Path) -> None:
    """Build the demo with all releases, unless it is current."""
    build(folder, BuildSelection.of())


def solve(deck: str, output: Path) -> None:
    """Run every load case of a deck."""
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "model.deck"
        path.write_text(deck, encoding="utf-8")
        try:
            with compiled_steps():
                run_deck(path, output)
        except DeckError as error:
            raise ArithmeticError(str(error)) from error


KIND: Final = ProblemKind(name="demo", build=build_demo, solve=solve)
