"""A small tuning project on disk, whose solver is a few lines of Python."""

from __future__ import annotations

from typing import TYPE_CHECKING

from correlate.errors import SignalError
from correlate.tuning.definition import load_tuning
from correlate.tuning.points import DesignPoint, write_points
from correlate.tuning.runs import UnstableError

if TYPE_CHECKING:
    from collections.abc import Sequence
    from pathlib import Path

    from correlate.tuning.definition import Tuning

SOLVER = """
import pathlib, sys, time
deck, output = map(pathlib.Path, sys.argv[1:3])
gain, delay = (float(line.split("=")[1]) for line in deck.read_text().splitlines())
with open(deck.parent.parent.parent / "calls.txt", "a") as calls:
    calls.write(f"{deck.parent.name}\\n")
ready = deck.parent.parent.parent / "ready"
if ready.exists():
    ready.open("w").write(f"{deck.parent.name}\\n")
time.sleep(delay)
print(f"gain is {gain}")
if gain > 8:
    print("negative volume in element 7")
    sys.exit(3)
(output / "result.txt").write_text("nan" if gain > 7 else str(gain))
"""

TUNING = """
title = "Gain"

[deck]
template = "model.template"
file = "model.deck"

[run]
command = ["{python}", "-I", "-S", "{project}/solver.py", "{deck}", "{output}"]
timeout_s = 20
at_once = 2
log_lines = 2

[goal]
train = ["push"]
held_out = ["pull"]

[[parameter]]
name = "gain"
unit = "kN/mm"
lower = 1
upper = 10
scale = "log"
start = 2

[[parameter]]
name = "delay"
unit = "s"
lower = 0
upper = 60
start = 0
"""


def tuning_project(folder: Path, gains: Sequence[float], *, delay: float = 0.0, text: str = TUNING) -> Tuning:
    """Write the project with one design point a gain, and load it."""
    (folder / "tuning.toml").write_text(text, encoding="utf-8")
    (folder / "model.template").write_text("gain = {{ gain }}\ndelay = {{ delay }}\n", encoding="utf-8")
    (folder / "solver.py").write_text(SOLVER, encoding="utf-8")
    (folder / "campaign.toml").touch()
    tuning = load_tuning(folder)
    points = [
        DesignPoint(identity=f"p{number:03d}", round=0, values={"gain": gain, "delay": delay})
        for number, gain in enumerate(gains)
    ]
    write_points(tuning.design_file, tuning.space, points)
    return tuning


def calls(tuning: Tuning) -> list[str]:
    """Return the points that the solver was started for, in order."""
    path = tuning.folder / "calls.txt"
    return path.read_text(encoding="utf-8").split() if path.exists() else []


class GainRater:
    """Rates a run by its gain: the closer to 4, the better."""

    def __init__(self, key: str = "by gain") -> None:
        self.key = key
        self.asked: list[str] = []

    def __call__(self, identity: str, output: Path) -> dict[str, float]:
        """Read the gain that the solver wrote."""
        self.asked.append(identity)
        path = output / "result.txt"
        if not path.exists():
            raise SignalError("there is no result", where=path.name)
        gain = float(path.read_text(encoding="utf-8"))
        if gain != gain:  # noqa: PLR0124 - only nan differs from itself
            raise UnstableError("a result is not finite", where=path.name)
        rating = 1 - abs(gain - 4) / 10
        return {
            "train": rating,
            "held-out": rating / 2,
            "overall": rating,
            "load case/push": rating,
            "load case/pull": rating / 2,
            "window/push/peak": 0.7 - gain / 10,
        }
