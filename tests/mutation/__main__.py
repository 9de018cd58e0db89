"""Mutation testing: ``python -m tests.mutation [PACKAGE …] [--mutants N]``.

Puts one small fault after another into a copy of the tree and runs the tests of the package against each.
A fault that no test notices survives; it is printed.
"""

from __future__ import annotations

import argparse
import json
import os
import random
import sys
import time
import tomllib
from pathlib import Path
from typing import Any, Final

# One core each; and a fork of a process with threads of its own may hang.
os.environ.setdefault("OMP_NUM_THREADS", "1")
os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

from tests.mutation.mutants import Mutant, mutants_of
from tests.mutation.running import ROOT, Workshop

TESTS: Final[dict[str, tuple[str, ...]]] = {
    "correlate/metrics": ("tests/metrics", "tests/published/measures", "correlate/metrics"),
    "correlate/campaign": ("tests/campaign", "correlate/campaign"),
    "correlate/reference/check": ("tests/reference", "correlate/reference"),
    "correlate/selfcheck": ("tests/selfcheck", "correlate/selfcheck"),
    "correlate/criteria": ("tests/criteria", "tests/published/criteria", "correlate/criteria"),
}
"""Folders of tests of each package; a folder of the package stands for its doctests."""
EQUIVALENT: Final = Path(__file__).with_name("equivalent.toml")


def main() -> None:
    """Test the packages one after the other."""
    options = _options()
    told: dict[str, Any] = {}
    for package in options.package or TESTS:
        told[package] = _test_package(package, options)
        if options.log:
            options.log.write_text(json.dumps(told, indent=1, ensure_ascii=False), encoding="utf-8")


def _options() -> argparse.Namespace:
    parser = argparse.ArgumentParser(prog="python -m tests.mutation", description=__doc__)
    parser.add_argument("package", nargs="*", choices=[*TESTS, []], help="default: all of the table")
    parser.add_argument("--mutants", type=int, default=100, help="sample of each package; 0 takes all")
    parser.add_argument("--seed", type=int, default=1, help="of the sample")
    parser.add_argument("--budget", type=float, default=15.0, help="seconds of tests, fastest files first")
    parser.add_argument("--longest", type=float, default=1.0, help="leave out tests longer than this [s]")
    parser.add_argument("--tests", nargs="+", help="folders or files of tests, instead of those of the table")
    parser.add_argument("--compiled", action="store_true", help="take only the faults in compiled functions")
    parser.add_argument("--within", default="", help="only faults whose place contains this text")
    parser.add_argument("--log", type=Path, help="write every verdict to this file")
    parser.add_argument("--retry", type=Path, help="run only what survived in this log")
    return parser.parse_args()


def _test_package(package: str, options: argparse.Namespace) -> dict[str, list[str]]:
    sources = _sources(package)
    every = [one for name in sources for one in mutants_of((ROOT / name).read_bytes(), file=name)]
    known = _equivalent()
    possible = [one for one in every if one.compiled == options.compiled]
    worthwhile = [one for one in possible if _key(one) not in known and options.within in str(one)]
    if options.retry:
        survived = set(json.loads(options.retry.read_text(encoding="utf-8"))[package]["survived"])
        chosen = [one for one in worthwhile if str(one) in survived]
    else:
        chosen = _sample(worthwhile, options, package)
    print(f"\n{package}: {len(every)} possible faults in {len(sources)} files", flush=True)
    print(
        f"left out: {len(every) - len(possible)} "
        + ("outside compiled functions" if options.compiled else "in compiled functions (see --compiled)")
        + f", {sum(_key(one) in known for one in possible)} known to be equivalent"
    )
    verdicts: dict[str, list[str]] = {"killed": [], "timed out": [], "survived": []}
    began = time.monotonic()
    with Workshop(
        sources, options.tests or TESTS[package], budget_s=options.budget, longest_s=options.longest
    ) as workshop:
        left_out = len(workshop.left_out)
        print(f"{len(workshop.baseline.seconds)} tests, without {left_out} slow ones; {len(chosen)} faults")
        for name in sorted(workshop.failing):
            print(f"left out, because it fails without a fault: {name}")
        for mutant in chosen:
            verdict = workshop.judge(mutant)
            verdicts[verdict].append(str(mutant))
            if verdict != "killed":
                print(f"{verdict}: {mutant}", flush=True)
    counts = ", ".join(f"{len(found)} {verdict}" for verdict, found in verdicts.items())
    print(f"{package}: {counts} in {time.monotonic() - began:.0f} s", flush=True)
    return verdicts


def _sources(package: str) -> list[str]:
    """Return the files of a package, which may also be a single module."""
    folder = ROOT / package
    files = sorted(folder.rglob("*.py")) if folder.is_dir() else [folder.with_suffix(".py")]
    if not files[0].is_file():
        sys.exit(f"{package} is not there: correct TESTS in {Path(__file__).relative_to(ROOT)}")
    return [file.relative_to(ROOT).as_posix() for file in files]


def _sample(mutants: list[Mutant], options: argparse.Namespace, package: str) -> list[Mutant]:
    if not options.mutants or options.mutants >= len(mutants):
        return mutants
    chosen = random.Random(f"{options.seed} {package}").sample(mutants, options.mutants)  # noqa: S311
    return sorted(chosen, key=lambda one: (one.file, one.start))


def _equivalent() -> set[tuple[str, ...]]:
    """Return the faults that change nothing, by function and line, wherever the function stands."""
    table = tomllib.loads(EQUIVALENT.read_text(encoding="utf-8"))
    return {(one["function"], one["line"], one["before"], one["after"]) for one in table["equivalent"]}


def _key(mutant: Mutant) -> tuple[str, ...]:
    return mutant.function, mutant.text, " ".join(mutant.before.split()), mutant.after


if __name__ == "__main__":
    main()
