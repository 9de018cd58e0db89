"""A project of slow pulses with known faults: a late moment, an angle that errs with it, a turned force."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from pathlib import Path

    from numpy.typing import NDArray

    Floats = NDArray[np.float64]

TIME_MS = np.arange(-50.0, 601.0)
"""1 kHz."""
LATE_MS = 6.0
"""Of the model's moment against the middle repeat."""
REPEATS_MS = (0.0, 1.0, -1.0)
"""Of the repeats: 2 ms between the two furthest."""

LOAD_CASE = """
[[load_case]]
name = "{name}"
tests = ["tests/*.csv"]
interval_ms = [0, 500]
step_ms = 1.0
model_file = "{file}.csv"
held_out = {held_out}
"""
CHANNELS = """
[[load_case.channel]]
test = "moment"
title = "neck moment"
region = "neck"
weight = 2.0
[[load_case.channel]]
test = "angle"
region = "head"
[[load_case.channel]]
test = "force"
region = "neck"
{of_force}
"""
HEAD = """
[campaign]
title = "Slow pulses"
[scoring]
repeats = "{repeats}"
missing = "{missing}"
"""


def pulse(late_ms: float = 0.0, *, start_ms: float = 50.0, length_ms: float = 400.0) -> Floats:
    """Return a half sine, zero elsewhere."""
    return np.asarray(np.sin(np.pi * np.clip((TIME_MS - start_ms - late_ms) / length_ms, 0, 1)))


def curves(late_ms: float) -> dict[str, Floats]:
    """Return the channels of one test; nothing but its timing differs from the next."""
    force = pulse(late_ms, start_ms=60, length_ms=90) - 0.4 * pulse(late_ms, start_ms=220, length_ms=160)
    return {"moment [N·m]": 80 * pulse(late_ms), "angle [deg]": 60 * pulse(late_ms), "force [kN]": 5 * force}


def model() -> dict[str, Floats]:
    """Return the model: late in the moment, an angle that errs with it, the force turned and 5 % small."""
    test = curves(0.0)
    moment = 80 * pulse(LATE_MS)
    return {
        "moment [N·m]": moment,
        "angle [deg]": test["angle [deg]"] - 2 * (moment - test["moment [N·m]"]),
        "force [kN]": -0.95 * test["force [kN]"],
    }


def write(path: Path, columns: dict[str, Floats]) -> None:
    """Write columns, units in the names."""
    lines = ["time [ms]," + ",".join(columns)]
    lines += [
        ",".join(f"{value:.9g}" for value in row) for row in zip(TIME_MS, *columns.values(), strict=True)
    ]
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_text("\n".join(lines) + "\n", encoding="utf-8")


def build(
    folder: Path, *, repeats: str = "each", missing: str = "apart", resultant: str = "", of_force: str = ""
) -> Path:
    """Write tests, one release and the campaign file with a held-out load case; return the folder."""
    for number, late_ms in enumerate(REPEATS_MS, start=1):
        write(folder / "tests" / f"R{number}.csv", curves(late_ms))
    write(folder / "B1" / "slow.csv", model())
    channels = CHANNELS.format(of_force=of_force)
    cases = [
        LOAD_CASE.format(name="slow", file="slow", held_out="false") + channels + resultant,
        LOAD_CASE.format(name="secret", file="slow", held_out="true") + channels,
    ]
    release = '[[release]]\nname = "B1"\nfolder = "B1"\n'
    text = HEAD.format(repeats=repeats, missing=missing) + "".join(cases) + release
    (folder / "campaign.toml").write_text(text, encoding="utf-8")
    return folder


def second_case_gone(folder: Path, *, missing: str = "apart") -> Path:
    """Build the project with a second load case for tuning that has no results; return the folder."""
    file = build(folder, missing=missing) / "campaign.toml"
    head, second = file.read_text(encoding="utf-8").split('name = "secret"')
    second = second.replace("slow.csv", "gone.csv").replace("held_out = true", "held_out = false")
    file.write_text(f'{head}name = "secret"{second}', encoding="utf-8")
    return folder
