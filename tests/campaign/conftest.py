"""A small project on disk: two repeats, one release, two channels."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np
import pytest

if TYPE_CHECKING:
    from pathlib import Path

CAMPAIGN = """
[campaign]
title = "Two repeats"

[[load_case]]
name = "push"
tests = ["tests/*.csv"]
interval_ms = [0, 50]

[[load_case.channel]]
test = "force"
model = "probe force"
region = "thorax"
cfc = 180
model_sign = -1

[[load_case.channel]]
test = "deflection"
model = "compression"
title = "sternum deflection"
region = "thorax"

[[release]]
name = "B1"
folder = "model"
"""


def half_sine(start_ms: float, height: float) -> np.ndarray[tuple[int], np.dtype[np.float64]]:
    """Return a half-sine of 30 ms on a grid from -10 to 60 ms, 10 kHz."""
    time = np.arange(-100, 601) * 0.1
    return height * np.sin(np.pi * np.clip((time - start_ms) / 30, 0, 1))


def write_columns(path: Path, columns: dict[str, np.ndarray[tuple[int], np.dtype[np.float64]]]) -> None:
    """Write columns on that grid, units in the names."""
    time = np.arange(-100, 601) * 0.1
    lines = ["time [ms]," + ",".join(columns)]
    lines += [",".join(f"{value:.9g}" for value in row) for row in zip(time, *columns.values(), strict=True)]
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


@pytest.fixture
def project(tmp_path: Path) -> Path:
    """Write the project and return its folder."""
    for number, (late, high) in enumerate([(5.0, 4.0), (5.5, 4.2)], start=1):
        write_columns(
            tmp_path / "tests" / f"R{number}.csv",
            {"force [kN]": half_sine(late, high), "deflection [mm]": half_sine(late + 2, 60.0)},
        )
    write_columns(
        tmp_path / "model" / "push.csv",
        {"probe force [N]": -half_sine(6.0, 3900.0), "compression [m]": half_sine(8.0, 0.055)},
    )
    (tmp_path / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    return tmp_path
