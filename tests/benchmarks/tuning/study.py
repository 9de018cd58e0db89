"""The comparison with few seeds, as a group of ``python -m tests.benchmarks``."""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import TYPE_CHECKING, Final

from tests.benchmarks.tuning.kept import SEARCHES, run_search
from tests.benchmarks.tuning.problem import Problem
from tests.benchmarks.tuning.problems import KINDS
from tests.benchmarks.tuning.report import report

if TYPE_CHECKING:
    from collections.abc import Iterator

SEEDS: Final = range(3)


def report_of_few() -> Iterator[str]:
    """Run every search on every problem with a few seeds, in a folder that is removed, and report."""
    with tempfile.TemporaryDirectory() as folder:
        for kind in KINDS.values():
            problem = Problem(kind, Path(folder))
            for search in SEARCHES:
                for seed in SEEDS:
                    run_search(problem, search, seed)
            yield from report(problem, SEEDS)
            yield ""
