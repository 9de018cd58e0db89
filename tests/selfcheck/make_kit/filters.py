"""Channel frequency classes: curves of the literal loop, and the published amplitude of tones."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

from tests.oracles.cfc_loop import cfc_by_loop
from tests.selfcheck.make_kit.sheets import (
    LOOPS,
    Check,
    Curve,
    Sheet,
    Value,
    exact,
    noise,
    pulse,
    ringing,
    times,
    written,
)

CLASSES = (60, 180, 600, 1000)
SOURCE = f"SAE J211-1 and ISO 6487, from memory; extension of 10 ms at both ends: common practice; {LOOPS}"
TABLE = tomllib.loads(
    (Path(__file__).parents[2] / "published" / "cfc" / "classes.toml").read_text(encoding="utf-8")
)
STEPS_MS = {60: 0.1, 180: 0.1, 600: 0.02, 1000: 0.02}
LENGTHS_MS = {60: 120.0, 180: 60.0, 600: 20.0, 1000: 12.0}


def sheets() -> list[Sheet]:
    """Return a rough curve at two rates with its filtered curves, and two tones a class."""
    return [*(_rough(step_ms) for step_ms in (0.1, 0.05)), *(_tones(cfc) for cfc in CLASSES)]


def _rough(step_ms: float) -> Sheet:
    moments = times(-10.0, 39.9, step_ms)
    seconds = [float(text) / 1000 for text in moments]
    extra = noise(101, len(moments), 3.0)
    raw = written(
        [
            4 + 90 * pulse(t, 0.002, 0.012) + 30 * ringing(t, 0.004, 900.0, 0.004) + x
            for t, x in zip(seconds, extra, strict=True)
        ],
        3,
    )
    dt = (seconds[-1] - seconds[0]) / (len(seconds) - 1)
    read = [float(text) for text in raw]
    filtered = {f"CFC {cfc} [g]": exact(cfc_by_loop(read, cfc, dt, round(10.0 / step_ms))) for cfc in CLASSES}
    rate = round(1 / step_ms)
    columns = {"as recorded [g]": raw, **filtered}
    return Sheet(
        name=f"filter-{rate}kHz.csv", title=f"rough pulse, {rate} kHz", times_ms=moments, columns=columns
    )


def _tones(cfc: int) -> Sheet:
    row = _row(cfc)
    moments = times(0.0, LENGTHS_MS[cfc], STEPS_MS[cfc])
    columns = {
        f"{name} [g]": written([math.sin(2 * math.pi * hertz * float(text) / 1000) for text in moments], 9)
        for name, hertz in (("pass limit", row["pass_limit_hz"]), ("corner", row["corner_hz"]))
    }
    return Sheet(name=f"tones-{cfc}.csv", title=f"tones for CFC {cfc}", times_ms=moments, columns=columns)


def _row(cfc: int) -> dict[str, float]:
    found: dict[str, float] = next(row for row in TABLE["class"] if row["cfc"] == cfc)
    return found


def checks(made: list[Sheet]) -> list[Check]:
    """Return the filtered curves, and the amplitudes at pass limit and corner."""
    found = [
        Check(
            name=sheet.title,
            function="filter",
            sheet=sheet.name,
            source=SOURCE,
            curves=[Curve(f"CFC {cfc}", f"CFC {cfc}", 1e-7, "g") for cfc in CLASSES],
        )
        for sheet in made
        if sheet.name.startswith("filter")
    ]
    low, high = TABLE["band_at_pass_limit_db"]
    for cfc in CLASSES:
        row = _row(cfc)
        for column, value, tolerance, hertz in (
            ("pass limit", (low + high) / 2, (high - low) / 2, row["pass_limit_hz"]),
            ("corner", TABLE["corner_db"], TABLE["corner_tolerance_db"], row["corner_hz"]),
        ):
            found.append(
                Check(
                    name=f"CFC {cfc} at {hertz:.0f} Hz",
                    function="amplitude of a tone",
                    sheet=f"tones-{cfc}.csv",
                    source=TABLE["source"],
                    settings={"column": column, "cfc": cfc, "frequency_hz": hertz},
                    values=[Value(f"amplitude at the {column}", value, tolerance, "dB")],
                )
            )
    return found
