"""The rating: pairs of curves and the scores of the literal implementation."""

from __future__ import annotations

from typing import TYPE_CHECKING

from tests.oracles import iso18571_literal
from tests.selfcheck.make_kit.sheets import (
    LOOPS,
    Check,
    Sheet,
    Value,
    close,
    noise,
    pulse,
    ringing,
    times,
    written,
)

if TYPE_CHECKING:
    from collections.abc import Callable

SOURCE = f"ISO/TS 18571:2014, from memory; {LOOPS}"
SCORES = ("overall", "corridor", "phase", "magnitude", "slope")


def _test(t: float) -> float:
    return 100 * pulse(t, 0.005, 0.020) + 20 * ringing(t, 0.015, 140.0, 0.010)


def _slow(t: float) -> float:
    return 60 * pulse(t, 0.002, 0.030) - 25 * pulse(t, 0.020, 0.018)


PAIRS: dict[str, tuple[Callable[[float], float], Callable[[float], float], float]] = {
    "equal curves": (_test, _test, 0.0),
    "late and low": (_test, lambda t: 0.88 * _test(t - 0.0011), 0.0),
    "early and noisy": (_test, lambda t: 1.07 * _test(t + 0.0007), 2.5),
    "another shape": (_slow, lambda t: 48 * pulse(t, 0.004, 0.024) - 12 * pulse(t, 0.024, 0.010), 0.5),
    "opposite sign": (_test, lambda t: -0.5 * _test(t), 0.0),
    "later than the method looks": (_test, lambda t: _test(t - 0.011), 0.0),
    "model that does nothing": (_slow, lambda _: 0.0, 0.0),
}
"""Test, model, and noise on both."""


def sheets() -> list[Sheet]:
    """Return a pair a sheet."""
    moments = times(0.0, 39.9, 0.1)
    found = []
    for number, (name, (test, model, deviation)) in enumerate(PAIRS.items(), start=1):
        seconds = [float(text) / 1000 for text in moments]
        rough = [noise(10 * number + side, len(moments), deviation) for side in (1, 2)]
        columns = {
            heading: written([curve(t) + x for t, x in zip(seconds, extra, strict=True)], 4)
            for heading, curve, extra in zip(("test [g]", "model [g]"), (test, model), rough, strict=True)
        }
        found.append(Sheet(name=f"rating-{number}.csv", title=name, times_ms=moments, columns=columns))
    return found


def checks(made: list[Sheet]) -> list[Check]:
    """Return the scores of each pair, rated alone and together with others."""
    found = []
    for sheet in made:
        expected = iso18571_literal.rating(sheet.column("test [g]"), sheet.column("model [g]"), sheet.step_s)
        values = [close(name, expected[name]) for name in SCORES]
        values.append(Value("delay of the model", 1000 * expected["delay"] * sheet.step_s, 1e-9, "ms"))
        found += [
            Check(name=sheet.title, function=function, sheet=sheet.name, source=SOURCE, values=values)
            for function in ("rating", "rating of many pairs")
        ]
    return found
