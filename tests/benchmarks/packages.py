"""Time and memory of a package of 4 GB: ``python -m tests.benchmarks.packages [FOLDER]``."""

from __future__ import annotations

import sys
import tempfile
import time
from pathlib import Path
from typing import TYPE_CHECKING

from correlate.reference.package.create import PackagePlan, make_package
from correlate.reference.package.verify import unpack, verify
from tests.reference.folders import write_pulse

if TYPE_CHECKING:
    from collections.abc import Callable

FILM_BYTES = 4 * 2**30


def most_memory_mb() -> int:
    """Return the most memory this process ever had resident, in MB."""
    status = Path("/proc/self/status").read_text(encoding="ascii")
    return int(status.split("VmHWM:")[1].split()[0]) // 1024


def timed(name: str, step: Callable[[], object]) -> None:
    """Run a step and print its time and the memory so far."""
    start = time.perf_counter()
    step()
    print(f"| {name} | {time.perf_counter() - start:.1f} s | {most_memory_mb()} MB |")
    sys.stdout.flush()


def main() -> None:
    """Print the table."""
    with tempfile.TemporaryDirectory(dir=sys.argv[1] if len(sys.argv) > 1 else None) as folder:
        place = Path(folder)
        test = write_pulse(place, "T1", 1)
        (test / "Movie").mkdir()
        with (test / "Movie" / "drop.avi").open("wb") as film:
            film.truncate(FILM_BYTES)
        print(f"| a film of {FILM_BYTES / 2**30:.0f} GB | time | memory |\n| --- | --- | --- |")
        bag = place / "bag.zip"
        timed("pack", lambda: make_package(PackagePlan(tests=[test], checked_by="lab"), bag))
        timed("verify", lambda: verify(bag))
        timed("unpack", lambda: unpack(bag, place / "out"))


if __name__ == "__main__":
    main()
