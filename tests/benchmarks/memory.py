"""The most memory that one call adds, each in a separate process (Linux)."""

from __future__ import annotations

import subprocess
import sys
from typing import Final

_PROBE: Final = """
from pathlib import Path

def kilobytes(name):
    lines = Path("/proc/self/status").read_text().splitlines()
    return next(int(line.split()[1]) for line in lines if line.startswith(name))

{prepare}
Path("/proc/self/clear_refs").write_text("5")  # forget the peak so far
before = kilobytes("VmRSS")
{call}
print(kilobytes("VmHWM") - before)
"""


def added_peak_mb(prepare: str, call: str) -> float:
    """Return by how much a call raises the resident memory at its peak.

    Parameters
    ----------
    prepare
        Lines of Python that run before: imports, input, and a small call that loads what is compiled.
    call
        The line that is measured.

    Returns
    -------
    float
        In MB (2**20 bytes). What the allocator had free before the call is not counted.
    """
    done = subprocess.run(
        [sys.executable, "-c", _PROBE.format(prepare=prepare, call=call)],
        capture_output=True,
        text=True,
        check=True,
    )
    return int(done.stdout.split()[-1]) / 1024
