"""A small project on disk for the tests of the dashboard, computed from closed forms.

Two releases, two load cases. The model of ``impact`` is written at 5 kHz, which CFC 600 and 1000 forbid.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from tests.plots.scores import pulse

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence
    from pathlib import Path

    from numpy.typing import NDArray

CAMPAIGN = """
[campaign]
title = "Small <campaign>"
device = "KELP-M"

[[load_case]]
name = "drop"
title = "Drop onto a plate"
tests = ["laboratory/drop/*.csv"]
interval_ms = [0, 40]

[[load_case.channel]]
test = "D0HEAD0000KMACXP"
model = "head x"
region = "head"
cfc = 1000

[[load_case.channel]]
test = "D0HEAD0000KMACZP"
model = "head z"
region = "head"
cfc = 600

[[load_case]]
name = "impact"
title = "Impact with a probe"
tests = ["laboratory/impact/*.csv"]
interval_ms = [0, 40]
held_out = true

[[load_case.channel]]
test = "D0CHST0003KMDSXP"
model = "compression"
region = "thorax"
cfc = 180

[[load_case.channel]]
test = "D0LUSP0000KMFOZP"
model = "lumbar force"
title = "Lumbar force Z <b>"
region = "spine"

[[release]]
name = "A1"
folder = "releases/A1"
note = "First guess"

[[release]]
name = "A2"
folder = "releases/A2"
"""


def write_project(folder: Path, *, heights: Sequence[float] = (200.0, 210.0)) -> Path:
    """Write the project, with a repeat of the tests for each height, and return its folder."""
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "campaign.toml").write_text(CAMPAIGN, encoding="utf-8")
    for repeat, height in enumerate(heights, start=1):
        _write_tests(folder / "laboratory", repeat, height)
    write_models(folder / "releases/A1", late_s=3e-3, height=150.0)
    write_models(folder / "releases/A2", late_s=0.5e-3, height=195.0)
    return folder


def _write_tests(folder: Path, repeat: int, height: float) -> None:
    time = np.arange(-200, 1201, dtype=np.float64) * 5e-5
    curve = pulse(time, start_s=0.005, height=height)
    _write(
        folder / f"drop/D0{repeat}.csv",
        time,
        {"D0HEAD0000KMACXP [m/s^2]": curve, "D0HEAD0000KMACZP [m/s^2]": 0.5 * curve + np.sin(3000 * time)},
    )
    _write(
        folder / f"impact/I0{repeat}.csv",
        time,
        {"D0CHST0003KMDSXP [mm]": -0.2 * curve, "D0LUSP0000KMFOZP [kN]": 0.01 * curve},
    )


def write_models(folder: Path, *, late_s: float, height: float) -> None:
    """Write what the model says of both load cases."""
    fine = np.arange(0, 1201, dtype=np.float64) * 5e-5
    coarse = np.arange(0, 301, dtype=np.float64) * 2e-4
    start_s = 0.005 + late_s
    curve = pulse(fine, start_s=start_s, height=height)
    _write(folder / "drop.csv", fine, {"head x [m/s^2]": curve, "head z [m/s^2]": 0.1 * curve})
    curve = pulse(coarse, start_s=start_s, height=height)
    _write(
        folder / "impact.csv", coarse, {"compression [mm]": -0.2 * curve, "lumbar force [kN]": 0.01 * curve}
    )


def _write(path: Path, time: NDArray[np.float64], columns: Mapping[str, NDArray[np.float64]]) -> None:
    lines = [",".join(["time [ms]", *columns])]
    rows = zip(time * 1e3, *columns.values(), strict=True)
    lines += [",".join(f"{value:.9g}" for value in row) for row in rows]
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")
