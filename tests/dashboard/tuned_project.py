"""A tuning project beside the small project: twelve runs whose curves and ratings come from closed forms."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from correlate.tuning.definition import load_tuning
from correlate.tuning.points import points_of, write_points
from correlate.tuning.runs import RunRecord, write_record
from tests.dashboard.project import write_models

if TYPE_CHECKING:
    from pathlib import Path

TUNING = """
title = "Skin <b> and rubber"

[deck]
template = "model.template"
file = "model.deck"

[run]
command = ["{python}", "solver.py", "{deck}", "{output}"]
timeout_s = 20

[rated]
campaign = "campaign.toml"

[goal]
OBJECTIVE
train = ["drop"]
held_out = ["impact"]

[[parameter]]
name = "skin"
unit = "MPa"
lower = 1
upper = 100
scale = "log"
start = 10

[[parameter]]
name = "rubber"
unit = "kN/m"
lower = 0
upper = 4
start = 2
"""

ONE = 'objective = "weighted rating"'
SEVERAL = 'objective = "several"\noutcomes = ["load case/drop", "load case/impact"]'


def write_tuning(folder: Path, *, objective: str = ONE, finished: int = 11) -> Path:
    """Write the project: the last point waits, the one before it failed, as many as told are done."""
    (folder / "tuning.toml").write_text(TUNING.replace("OBJECTIVE", objective), encoding="utf-8")
    (folder / "model.template").write_text("{{ skin }} {{ rubber }}\n", encoding="utf-8")
    tuning = load_tuning(folder)
    cube = np.vstack([[0.5, 0.5], np.random.default_rng(5).random((finished + 1, 2))])
    points = points_of(tuning.space, tuning.space.from_unit(cube))
    write_points(tuning.design_file, tuning.space, points)
    for number, (point, place) in enumerate(zip(points[:-1], cube, strict=False)):
        done = number < finished
        rating = float(0.9 - 0.5 * (place[0] - 0.7) ** 2 - 0.1 * (place[1] - 0.5) ** 2)
        held_out = float(0.6 + 0.1 * place[0])
        outcomes = {
            "train": rating,
            "held-out": held_out,
            "overall": (rating + held_out) / 2,
            "load case/drop": rating,
            "load case/impact": held_out,
        }
        record = RunRecord(
            identity=point.identity,
            values=point.values,
            deck_sha256="0" * 64,
            status="done" if done else "failed",
            message="" if done else "the program ended with code 3",
            exit_code=0 if done else 3,
            outcomes=outcomes if done else {},
            rated_by="a rater" if done else "",
        )
        tuning.run_folder(point.identity).mkdir(parents=True)
        write_record(tuning.run_folder(point.identity), record)
        if done:
            # The skin raises the pulse, the rubber delays it.
            output = tuning.output_folder(point.identity)
            write_models(output, late_s=2e-3 * float(place[1]), height=150.0 + 80.0 * float(place[0]))
    return folder
