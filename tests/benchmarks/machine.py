"""The machine that measures: what it is, and whether anything else runs on it."""

from __future__ import annotations

import os
import platform
import statistics
import time
from dataclasses import dataclass
from pathlib import Path
from typing import Final

MOST_LOAD: Final = 0.3
"""Processes that may want each core, averaged over the last minute."""
LEAST_SHARE: Final = 0.95
"""Share of a core that a short loop must get."""
MOST_SPREAD: Final = 1.15
"""Slowest over fastest of the same loop: above it, the clock of the processor varies."""


@dataclass(frozen=True, slots=True)
class Machine:
    """What rows were measured on; no name of the host.

    Attributes
    ----------
    cores, memory_gb
        Size.
    processor
        Model name.
    """

    cores: int
    memory_gb: int
    processor: str


def this_machine() -> Machine:
    """Describe the present machine."""
    memory = os.sysconf("SC_PAGE_SIZE") * os.sysconf("SC_PHYS_PAGES")
    return Machine(os.cpu_count() or 1, round(memory / 2**30), _processor())


def _processor() -> str:
    try:
        lines = Path("/proc/cpuinfo").read_text(encoding="utf-8").splitlines()
    except OSError:
        return platform.processor() or platform.machine()
    names = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
    return names[0] if names else platform.machine()


@dataclass(frozen=True, slots=True)
class Calibration:
    """A loop of fixed work, timed several times.

    Attributes
    ----------
    share
        Processor time over elapsed time, median.
    spread
        Slowest over fastest processor time.
    """

    share: float
    spread: float


def calibrate(rounds: int = 9, work: int = 400_000) -> Calibration:
    """Time a loop of about 10 ms several times."""
    _loop(work)
    shares, spent = [], []
    for _ in range(rounds):
        elapsed, processor = time.perf_counter(), time.process_time()
        _loop(work)
        spent.append(time.process_time() - processor)
        shares.append(spent[-1] / (time.perf_counter() - elapsed))
    return Calibration(statistics.median(shares), max(spent) / min(spent))


def _loop(work: int) -> int:
    total = 0
    for number in range(work):
        total += number
    return total


def why_busy(load: float, cores: int, found: Calibration) -> str | None:
    """Say why a machine must not measure; None where it may.

    Parameters
    ----------
    load
        Processes that wanted a core during the last minute.
    cores
        Of the machine.
    found
        From :func:`calibrate`.
    """
    if load > MOST_LOAD * cores:
        return f"{load:.1f} processes wanted its {cores} cores during the last minute"
    if found.share < LEAST_SHARE:
        return f"a loop got {found.share:.0%} of a core"
    if found.spread > MOST_SPREAD:
        return f"the same loop took up to {found.spread:.2f} times as long as at best"
    return None
