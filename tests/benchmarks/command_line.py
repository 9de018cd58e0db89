"""Start-up of the command line against the bare interpreter."""

from __future__ import annotations

import functools
import subprocess
import sys

from tests.benchmarks.table import Row, compare


def rows() -> list[Row]:
    """Compare ``correlate --help`` with a Python that imports numpy."""
    return [
        compare(
            "correlate --help, against starting Python and importing numpy",
            functools.partial(_run, "-m", "correlate", "--help"),
            functools.partial(_run, "-c", "import numpy"),
            goal=0.5,
        )
    ]


def _run(*arguments: str) -> None:
    subprocess.run([sys.executable, *arguments], check=True, capture_output=True)
