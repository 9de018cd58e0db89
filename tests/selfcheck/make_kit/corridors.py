"""Corridors of repeats, and the shifts that align repeats."""

from __future__ import annotations

import math

from tests.oracles.corridor_literal import inside, mean_and_deviation, student_of_four
from tests.selfcheck.make_kit.sheets import (
    LOOPS,
    Check,
    Curve,
    Sheet,
    Value,
    close,
    exact,
    noise,
    pulse,
    ringing,
    times,
    written,
)

REPEATS = [f"repeat {number}" for number in range(1, 5)]
LEVEL = 0.95
"""Probability with which a further test is inside the prediction band at each instant."""
MOVED = {"repeat 1": 0.0, "repeat 2": 0.6, "repeat 3": -0.6}
"""How late each repeat of the second sheet is, ms; the mean is zero."""


def sheets() -> list[Sheet]:
    """Return repeats with a model and their corridors, and repeats that only differ in time."""
    return [_scattered(), _moved()]


def _scattered() -> Sheet:
    moments = times(0.0, 29.9, 0.1)
    seconds = [float(text) / 1000 for text in moments]
    columns = {}
    for number, name in enumerate(REPEATS):
        rough = noise(30 + number, len(seconds), 0.4)
        height, late = 1 + 0.02 * (number - 1), 0.0001 * number
        columns[f"{name} [kN]"] = written(
            [height * 5 * pulse(t, 0.004 + late, 0.016) + x for t, x in zip(seconds, rough, strict=True)], 5
        )
    model = [4.7 * pulse(t, 0.0046, 0.0165) + 0.3 * ringing(t, 0.016, 200.0, 0.005) for t in seconds]
    columns["model [kN]"] = written(model, 5)
    curves = [[float(text) for text in columns[f"{name} [kN]"]] for name in REPEATS]
    mean, deviation = mean_and_deviation(curves)
    factor = student_of_four(LEVEL) * math.sqrt(1 + 1 / len(REPEATS))
    columns |= {
        "mean [kN]": exact(mean),
        "lower edge [kN]": exact([m - s for m, s in zip(mean, deviation, strict=True)]),
        "upper edge [kN]": exact([m + s for m, s in zip(mean, deviation, strict=True)]),
        "prediction lower edge [kN]": exact([m - factor * s for m, s in zip(mean, deviation, strict=True)]),
        "prediction upper edge [kN]": exact([m + factor * s for m, s in zip(mean, deviation, strict=True)]),
        "smallest [kN]": exact([min(one) for one in zip(*curves, strict=True)]),
        "largest [kN]": exact([max(one) for one in zip(*curves, strict=True)]),
    }
    title = "four repeats and a model"
    return Sheet(name="corridor-repeats.csv", title=title, times_ms=moments, columns=columns)


def _moved() -> Sheet:
    moments = times(0.0, 39.9, 0.1)
    columns = {
        f"{name} [kN]": written(
            [5 * pulse(float(text) / 1000 - late / 1000, 0.010, 0.015) for text in moments], 5
        )
        for name, late in MOVED.items()
    }
    title = "one curve at three times"
    return Sheet(name="corridor-moved.csv", title=title, times_ms=moments, columns=columns)


def checks(made: list[Sheet]) -> list[Check]:
    """Return the edges, how much of the model is inside, and the shifts."""
    scattered, moved = made
    repeats = [scattered.column(f"{name} [kN]") for name in REPEATS]
    mean, deviation = mean_and_deviation(repeats)
    lower = [m - s for m, s in zip(mean, deviation, strict=True)]
    upper = [m + s for m, s in zip(mean, deviation, strict=True)]
    share, furthest = inside(lower, upper, scattered.column("model [kN]"))
    edges = ("lower edge", "upper edge")
    columns = ("mean", *edges, *(f"prediction {edge}" for edge in edges), "smallest", "largest")
    return [
        Check(
            name=scattered.title,
            function="corridor",
            sheet=scattered.name,
            source=f"sample mean, standard deviation (k − 1), prediction interval: any textbook; {LOOPS}",
            settings={
                "repeats": REPEATS,
                "model": "model",
                "times": 1.0,
                "level": LEVEL,
                "largest_shift_ms": 0.0,
            },
            values=[
                close("share of the model inside", share),
                close("furthest from the corridor", furthest, "kN"),
            ],
            curves=[Curve(name, name, 1e-8, "kN") for name in columns],
        ),
        Check(
            name=moved.title,
            function="alignment of repeats",
            sheet=moved.name,
            source="least summed squared difference; the shifts that the curves were made with",
            settings={"repeats": list(MOVED), "largest_shift_ms": 2.0},
            values=[Value(f"shift of {name}", 0.0 - late, 1e-6, "ms") for name, late in MOVED.items()],
        ),
    ]
