"""The solver of a problem as a program: ``python -m tests.benchmarks.tuning.solve PROBLEM DECK OUTPUT``."""

from __future__ import annotations

import sys
from pathlib import Path

from tests.benchmarks.tuning.problems import KINDS

if __name__ == "__main__":
    name, deck, output = sys.argv[1:]
    KINDS[name].solve(Path(deck).read_text(encoding="utf-8"), Path(output))
