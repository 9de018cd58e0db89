"""Rounds of faults: ``python -m tests.faults [--rounds 50] [--only score] [--seed 1] [--fault kill]``."""

from __future__ import annotations

import argparse
import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

from tests.faults.operations import OPERATIONS
from tests.faults.rounds import Bench, running_program
from tests.faults.servers import one_server

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tests.faults.operations import Operation
    from tests.faults.rounds import Round


def main() -> int:
    """Do the rounds, print one line an operation and one for each thing that did not hold."""
    parser = argparse.ArgumentParser(prog="python -m tests.faults", description=__doc__)
    parser.add_argument("--rounds", type=int, default=50)
    parser.add_argument("--only", default="", help="the operation of this name, or all that contain it")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--fault", default="", choices=["kill", "full disk", "lost connection"])
    parser.add_argument("--every-step", action="store_true", help="once before each step, instead of drawn")
    told = parser.parse_args()
    print(f"{'operation':26} {'steps':>5} {'rounds':>6} {'killed while running':>20} {'broken':>6} {'s':>6}")
    failed = 0
    with running_program() as program, one_server():
        for operation in _chosen(told.only):
            begun = time.monotonic()
            with tempfile.TemporaryDirectory(prefix="correlate-faults-") as place:
                bench = Bench(program, operation, Path(place))
                drawn = _drawn(bench, told)
                rounds = []
                for one in drawn:
                    rounds.append(one)
                    for words in one.broken:
                        print(f"    {operation.name}, {one.how}: {words}", flush=True)
            killed, broken = sum(one.killed for one in rounds), sum(bool(one.broken) for one in rounds)
            failed += broken
            print(
                f"{operation.name:26} {bench.steps:5} {len(rounds):6} {killed:20} {broken:6}"
                f" {time.monotonic() - begun:6.0f}",
                flush=True,
            )
    return int(failed > 0)


def _chosen(name: str) -> list[Operation]:
    """Return the operation of a name, else all that contain it."""
    exact = [one for one in OPERATIONS if one.name == name]
    return exact or [one for one in OPERATIONS if name in one.name]


def _drawn(bench: Bench, told: argparse.Namespace) -> Iterator[Round]:
    """Return the rounds that are asked for."""
    if told.fault or told.every_step:
        count = bench.steps if told.every_step else told.rounds
        return bench.disturbed(count, told.seed, told.fault or "kill")
    return bench.drawn(told.rounds, told.seed)


if __name__ == "__main__":
    sys.exit(main())
