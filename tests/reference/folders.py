"""Small test folders for the tests of checks, repairs and packages."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from correlate import Signal
from correlate.formats.iso13499 import write_test

if TYPE_CHECKING:
    from pathlib import Path

CODE = "D0HEAD0000KMACXP"


def write_pulse(folder: Path, name: str, seed: int, *, size: float = 900.0) -> Path:
    """Write a test folder with one pulse and a document beside it."""
    random = np.random.default_rng(seed)
    time = np.arange(-300, 700) * 1e-4
    pulse = size * np.exp(-(((time - 0.02) / 0.006) ** 2)) + random.normal(0, 0.3, time.size)
    made = write_test(
        folder / name,
        name=name,
        description={"Title": f"drop {name}", "Type of the test": "drop", "Reference temperature": "21.3"},
        signals=[Signal(samples=pulse, start_s=-0.03, step_s=1e-4, unit="m/s^2", channel=CODE)],
        channel_headers={CODE: {"Channel amplitude class": "2000"}},
        significant_digits=6,
    )
    (made / "Document").mkdir()
    (made / "Document" / "set-up.txt").write_text("a drawing\n", encoding="utf-8")
    return made
