"""Tables of curves and the checks on them, as they are written into the kit."""

from __future__ import annotations

import math
import random
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

DIGITS = 12
"""Significant digits of expected values."""
ROUNDING = 1e-9
"""Tolerance of a value that is only rounded differently, as a share of its size."""
LOOPS = "a second, literal implementation in the project's tests"


@dataclass(frozen=True, slots=True)
class Value:
    """An expected number: in which unit, and how far a program may be from it."""

    quantity: str
    value: float
    tolerance: float
    unit: str = "1"


@dataclass(frozen=True, slots=True)
class Curve:
    """An expected curve, in a column of the sheet."""

    quantity: str
    column: str
    tolerance: float
    unit: str = "1"


@dataclass(frozen=True, slots=True, kw_only=True)
class Check:
    """What a function should give for the curves of a sheet."""

    name: str
    function: str
    sheet: str
    source: str
    values: Sequence[Value] = ()
    curves: Sequence[Curve] = ()
    settings: Mapping[str, Any] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Sheet:
    """Columns of numbers over time, as text: what is written is what the expected values are made from."""

    name: str
    title: str
    times_ms: Sequence[str]
    columns: Mapping[str, Sequence[str]]
    details: Mapping[str, str] = field(default_factory=dict)

    def column(self, heading: str) -> list[float]:
        """Return the numbers of a column as anybody reads them."""
        return [float(text) for text in self.columns[heading]]

    @property
    def times_s(self) -> list[float]:
        """Return the times."""
        return [float(text) / 1000 for text in self.times_ms]

    @property
    def step_s(self) -> float:
        """Return the sampling interval."""
        times = self.times_s
        return (times[-1] - times[0]) / (len(times) - 1)

    def text(self) -> str:
        """Return the file."""
        details = {"Title": self.title, **self.details}
        lines = [f"# {key}: {value}" for key, value in details.items()]
        lines.append(",".join(["time [ms]", *self.columns]))
        lines += [",".join(row) for row in zip(self.times_ms, *self.columns.values(), strict=True)]
        return "\n".join(lines) + "\n"


def times(first_ms: float, last_ms: float, step_ms: float) -> list[str]:
    """Return times as text."""
    count = round((last_ms - first_ms) / step_ms) + 1
    return [f"{first_ms + i * step_ms:.2f}" for i in range(count)]


def written(values: Sequence[float], decimals: int) -> list[str]:
    """Return measured numbers as text."""
    return [f"{value + 0.0:.{decimals}f}" for value in values]


def exact(values: Sequence[float]) -> list[str]:
    """Return expected numbers as text."""
    return [f"{value:.{DIGITS}g}" for value in values]


def close(quantity: str, value: float, unit: str = "1") -> Value:
    """Return an expected number that differs by rounding alone."""
    rounded = float(f"{value:.{DIGITS}g}")
    return Value(
        quantity, rounded, ROUNDING * max(1.0, 10.0 ** math.ceil(math.log10(abs(value) or 1.0))), unit
    )


def pulse(t: float, start: float, length: float) -> float:
    """Return a smooth pulse of height 1: a squared sine."""
    share = (t - start) / length
    return math.sin(math.pi * share) ** 2 if 0 <= share <= 1 else 0.0


def ringing(t: float, start: float, frequency_hz: float, decay_s: float) -> float:
    """Return a decaying sine that begins at a time."""
    if t < start:
        return 0.0
    return math.sin(2 * math.pi * frequency_hz * (t - start)) * math.exp(-(t - start) / decay_s)


def noise(seed: int, count: int, deviation: float) -> list[float]:
    """Return noise that is the same on every machine."""
    source = random.Random(seed)  # noqa: S311 - no secret
    # The sum of twelve uniform numbers is near enough to a normal one, and exactly the same everywhere.
    return [deviation * (sum(source.random() for _ in range(12)) - 6) for _ in range(count)]
