"""Searches that were run, each kept in a file, so that reports are printed from what is there."""

from __future__ import annotations

import json
from dataclasses import asdict
from typing import TYPE_CHECKING

import numpy as np

from correlate.files import write_json
from tests.benchmarks.tuning.product import PRODUCT, PredictedRun, SearchRuns
from tests.benchmarks.tuning.searches import RIVALS

if TYPE_CHECKING:
    from pathlib import Path

    from tests.benchmarks.tuning.problem import Problem

RUNS = 72
SEARCHES = (*PRODUCT, *RIVALS)


def search_file(problem: Problem, search: str, seed: int) -> Path:
    """Return the file of a search."""
    return problem.folder / "searches" / f"{search}-{seed}.json"


def search_kept(problem: Problem, search: str, seed: int) -> SearchRuns | None:
    """Read a search; None when it was not run, or on other tests or another solver."""
    try:
        found = json.loads(search_file(problem, search, seed).read_text(encoding="utf-8"))
    except FileNotFoundError:
        return None
    if found["fingerprint"] != problem.fingerprint:
        return None
    return SearchRuns(
        points=np.array(found["points"]),
        rounds=found["rounds"],
        predictions=[PredictedRun(**one) for one in found["predictions"]],
        refused=found["refused"],
    )


def run_search(problem: Problem, search: str, seed: int) -> SearchRuns:
    """Run a search and keep it."""
    if search in PRODUCT:
        runs = PRODUCT[search](problem, seed)
    else:
        cube = RIVALS[search](problem.worth, problem.start, RUNS, seed)
        runs = SearchRuns(points=problem.space.from_unit(cube), rounds=[0] * len(cube))
    file = search_file(problem, search, seed)
    file.parent.mkdir(exist_ok=True)
    content = asdict(runs) | {"points": runs.points.tolist(), "fingerprint": problem.fingerprint}
    write_json(file, content)
    return runs


def seeds_kept(problem: Problem, search: str) -> list[int]:
    """Return the seeds of a search that have a file."""
    files = (problem.folder / "searches").glob(f"{search}-*.json")
    return sorted(int(one.stem.rpartition("-")[2]) for one in files)
