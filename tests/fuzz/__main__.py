"""Mutation fuzzing: ``python -m tests.fuzz [--minutes N] [--target NAME …] [--seed N]``.

Every reader gets inputs that are mutations of valid files; those that reach lines which no input reached
before are mutated further. A reader may accept an input with a valid result or refuse it in one sentence.
Whatever else happens is printed, with the command that repeats it, and the program ends with code 1.
"""

from __future__ import annotations

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path
from typing import Final

# One core each; further threads only cost memory, which is limited.
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from tests.fuzz.lines import ROOT
from tests.fuzz.rounds import Round, Told
from tests.fuzz.targets import TARGETS

_SAVE: Final = ROOT / "build" / "fuzz"


def main() -> int:
    """Try inputs of the chosen targets."""
    options = _options()
    with tempfile.TemporaryDirectory(prefix="fuzz-") as made:
        folder = Path(made).resolve()
        if options.replay:
            return _replay(options.replay, folder)
        return _all_rounds(options, folder)


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.fuzz", description=__doc__)
    parser.add_argument(
        "--minutes", type=float, help="of all targets together; default: as many inputs as the tests"
    )
    parser.add_argument("--target", action="append", choices=sorted(TARGETS), help="default: all")
    parser.add_argument("--inputs", type=int, help="of each target, instead of minutes")
    parser.add_argument("--seed", type=int, default=1, help="of all choices; the tests use 1")
    parser.add_argument("--save", type=Path, default=_SAVE, help="folder for the inputs that fail")
    parser.add_argument(
        "--replay", type=Path, help="run one saved input: a folder in the folder of its target"
    )
    parser.add_argument("--log", type=Path, help="also write a line of JSON for each target to this file")
    return parser.parse_args()


def _all_rounds(options: argparse.Namespace, folder: Path) -> int:
    names = options.target or list(TARGETS)
    failed = False
    for name in names:
        if options.log:
            _add_line(options.log, Told(target=name).line())
        told = _round(name, options, folder / name, share=1 / len(names))
        print(
            f"{name}: {told.inputs} inputs, {told.refused} refused, {told.kept} kept, {told.lines} lines,"
            f" {told.seconds:g} s",
            flush=True,
        )
        for place, problem in told.findings.items():
            failed = True
            print(f"  {problem}\n  python -m tests.fuzz --replay {place}", flush=True)
        if options.log:
            _add_line(options.log, told.line())
    return int(failed)


def _round(name: str, options: argparse.Namespace, folder: Path, *, share: float) -> Told:
    folder.mkdir()
    target = TARGETS[name]
    one = Round(target, folder, seed=options.seed, save=options.save.resolve())
    one.prepare(memory=True)
    if options.minutes and not options.inputs:
        return one.run(sys.maxsize, time.monotonic() + options.minutes * 60 * share)
    return one.run(options.inputs or target.inputs, float("inf"))


def _replay(saved: Path, folder: Path) -> int:
    case = {
        str(one.relative_to(saved)): one.read_bytes() for one in sorted(saved.rglob("*")) if one.is_file()
    }
    one = Round(TARGETS[saved.resolve().parent.name], folder, seed=1, save=_SAVE)
    said = one.replay(case)
    print(said)
    return int(not said.startswith(("refused", "accepted")))


def _add_line(path: Path, line: str) -> None:
    with path.open("a", encoding="utf-8") as stream:
        stream.write(line + "\n")


if __name__ == "__main__":
    sys.exit(main())
