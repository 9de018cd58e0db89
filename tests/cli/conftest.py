"""A way to run the command line inside the test, and small files to run it on."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np
import pytest

from correlate.cli import main

if TYPE_CHECKING:
    from collections.abc import Callable
    from pathlib import Path


@dataclass(frozen=True)
class Outcome:
    """What one run of the command line left behind."""

    code: int
    out: str
    err: str


@pytest.fixture
def correlate(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> Callable[..., Outcome]:
    """Run ``correlate`` with arguments and return its exit code and output."""

    def run(*arguments: object) -> Outcome:
        monkeypatch.setattr("sys.argv", ["correlate", *map(str, arguments)])
        with pytest.raises(SystemExit) as stop:
            main()
        captured = capsys.readouterr()
        return Outcome(int(stop.value.code or 0), captured.out, captured.err)

    return run


@pytest.fixture
def pulse_files(tmp_path: Path) -> tuple[Path, Path]:
    """Write a test of two channels and a model of one, 0 to 60 ms, 10 kHz."""
    time_ms = np.arange(601) * 0.1
    pulse = 100 * np.sin(np.pi * np.clip((time_ms - 10) / 30, 0, 1)) ** 2
    late = 90 * np.sin(np.pi * np.clip((time_ms - 11) / 30, 0, 1)) ** 2
    test, model = tmp_path / "test.csv", tmp_path / "model.csv"
    rows = (f"{t:.1f},{a:.6f},{a / 2:.6f}" for t, a in zip(time_ms, pulse, strict=True))
    test.write_text("time [ms],force [kN],deflection [mm]\n" + "\n".join(rows) + "\n")
    rows = (f"{t:.1f},{1e3 * a:.6f}" for t, a in zip(time_ms, late, strict=True))
    model.write_text("time [ms],probe force [N]\n" + "\n".join(rows) + "\n")
    return test, model
