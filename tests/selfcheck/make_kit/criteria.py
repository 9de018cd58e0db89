"""Injury criteria: curves of the literal loops, and pulses whose value is published or has a closed form."""

from __future__ import annotations

import math
import tomllib
from pathlib import Path

from tests.oracles import criteria_literal as literal
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

PUBLISHED = tomllib.loads(
    (Path(__file__).parents[2] / "published" / "criteria" / "shapes.toml").read_text(encoding="utf-8")
)
MALE = {"device": "adult male, 50th percentile"}
NECK = (6806.0, 6160.0, 310.0, 135.0)
"""Tension, compression (N), flexion, extension (N·m): 49 CFR 571.208 S6.6, from memory."""
VISCOUS = (1.3, 0.229)
"""Scale, and depth in m: ECE R94 annex 4 and SAE J1727, from memory."""
TIBIA = (225.0, 35900.0)
"""Critical moment (N·m) and force (N): ECE R94 annex 4, from memory."""
RATES = (66.25, 56.45, 42.87)
"""Critical rates of rotation, rad/s: Takhounts et al., Stapp Car Crash Journal 57 (2013), from memory."""
TENSION_LIMIT = [(0.0, 3300.0), (0.035, 2900.0), (0.060, 1100.0)]
"""Neck tension by time above it, s and N: ECE R94 5.2.1.2, from memory."""
LEVELS = 5000
"""Levels that the literal search tries; it misses the largest ratio by less than one of them."""
CASES = {
    "te": "tension-extension",
    "tf": "tension-flexion",
    "ce": "compression-extension",
    "cf": "compression-flexion",
}


def sheets() -> list[Sheet]:
    """Return the curves of head, chest, neck, legs and rotation, and the simple pulses."""
    return [_head(), _chest(), _neck(), _rear(), _legs(), _rotation(), *_shapes()]


def _times() -> tuple[list[str], list[float]]:
    moments = times(0.0, 59.9, 0.1)
    return moments, [float(text) / 1000 for text in moments]


def _head() -> Sheet:
    moments, seconds = _times()
    rough = noise(7, len(seconds), 1.5)
    curve = [
        abs(95 * pulse(t, 0.006, 0.016) + 60 * pulse(t, 0.026, 0.022) + x)
        for t, x in zip(seconds, rough, strict=True)
    ]
    columns = {"head resultant [g]": written(curve, 4)}
    return Sheet(name="criteria-head.csv", title="head, two blows", times_ms=moments, columns=columns)


def _chest() -> Sheet:
    moments, seconds = _times()
    curve = [48 * pulse(t, 0.004, 0.045) + 3 * ringing(t, 0.010, 60.0, 0.010) for t in seconds]
    columns = {"chest deflection [mm]": written(curve, 5)}
    return Sheet(name="criteria-chest.csv", title="chest pushed in", times_ms=moments, columns=columns)


def _neck() -> Sheet:
    moments, seconds = _times()
    force = [2300 * pulse(t, 0.002, 0.030) - 1700 * pulse(t, 0.028, 0.030) for t in seconds]
    moment = [70 * ringing(t, 0.006, 45.0, 0.050) + 25 * pulse(t, 0.032, 0.020) for t in seconds]
    columns = {"axial force [N]": written(force, 2), "occipital moment [Nm]": written(moment, 4)}
    return Sheet(name="criteria-neck.csv", title="neck, all four cases", times_ms=moments, columns=columns)


def _rear() -> Sheet:
    moments, seconds = _times()
    columns = {
        "lower neck [m/s^2]": written([140 * pulse(t, 0.004, 0.050) for t in seconds], 4),
        "head [m/s^2]": written([180 * pulse(t, 0.022, 0.036) for t in seconds], 4),
    }
    return Sheet(name="criteria-rear.csv", title="head left behind", times_ms=moments, columns=columns)


def _legs() -> Sheet:
    moments, seconds = _times()
    columns = {
        "femur force [N]": written(
            [400 * pulse(t, 0, 0.01) - 5200 * pulse(t, 0.008, 0.03) for t in seconds], 2
        ),
        "tibia moment x [Nm]": written([90 * ringing(t, 0.010, 30.0, 0.020) for t in seconds], 4),
        "tibia moment y [Nm]": written([130 * pulse(t, 0.012, 0.028) for t in seconds], 4),
        "tibia force [N]": written([-3100 * pulse(t, 0.010, 0.025) for t in seconds], 2),
    }
    return Sheet(name="criteria-legs.csv", title="legs", times_ms=moments, columns=columns)


def _rotation() -> Sheet:
    moments, seconds = _times()
    columns = {
        "rate x [rad/s]": written([18 * ringing(t, 0.004, 22.0, 0.030) for t in seconds], 5),
        "rate y [rad/s]": written([-31 * pulse(t, 0.006, 0.040) for t in seconds], 5),
        "rate z [rad/s]": written([12 * ringing(t, 0.012, 15.0, 0.030) for t in seconds], 5),
        "angular acceleration x [rad/s^2]": written(
            [2600 * ringing(t, 0.004, 40.0, 0.020) for t in seconds], 3
        ),
        "angular acceleration y [rad/s^2]": written([-3900 * pulse(t, 0.006, 0.024) for t in seconds], 3),
        "angular acceleration z [rad/s^2]": written([1500 * pulse(t, 0.012, 0.030) for t in seconds], 3),
    }
    return Sheet(name="criteria-rotation.csv", title="head turning", times_ms=moments, columns=columns)


def _shapes() -> list[Sheet]:
    moments = times(0.0, 10.0, 0.1)
    half_sine = [100 * math.sin(math.pi * float(text) / 10) for text in moments]
    squares = [
        (f"square pulse of {row['acceleration_g']:.0f} g for {1000 * row['duration_s']:.0f} ms", row)
        for row in PUBLISHED["square"]
    ]
    made = [
        Sheet(
            name=f"criteria-square-{row['acceleration_g']:.0f}g.csv",
            title=title,
            times_ms=moments,
            columns={"head resultant [g]": [f"{row['acceleration_g']:.1f}"] * len(moments)},
        )
        for title, row in squares
    ]
    columns = {"head resultant [g]": written(half_sine, 9)}
    title = "half-sine pulse of 100 g for 10 ms"
    return [*made, Sheet(name="criteria-half-sine.csv", title=title, times_ms=moments, columns=columns)]


def checks(made: list[Sheet]) -> list[Check]:
    """Return the criteria of every sheet."""
    by_name = {sheet.name: sheet for sheet in made}
    return [
        *_head_checks(by_name["criteria-head.csv"]),
        *_shape_checks(by_name),
        _chest_check(by_name["criteria-chest.csv"]),
        _neck_check(by_name["criteria-neck.csv"]),
        _tension_check(by_name["criteria-neck.csv"]),
        _rear_check(by_name["criteria-rear.csv"]),
        *_leg_checks(by_name["criteria-legs.csv"]),
        _rotation_check(by_name["criteria-rotation.csv"]),
        _damage_check(by_name["criteria-rotation.csv"]),
    ]


def _head_checks(sheet: Sheet) -> list[Check]:
    a, dt = sheet.column("head resultant [g]"), sheet.step_s
    values = {
        "head injury criterion": (
            "49 CFR 571.208 S6.2",
            [close("HIC15", literal.hic(a, dt, 0.015)), close("HIC36", literal.hic(a, dt, 0.036))],
        ),
        "severity index": ("Gadd, SAE 660793", [close("severity index", literal.severity_index(a, dt))]),
        "3 ms clip": (
            "SAE J1727, from memory; straight lines between samples",
            [
                close("cumulative", literal.clip(a, dt, 0.003, which=0), "g"),
                close("contiguous", literal.clip(a, dt, 0.003, which=1), "g"),
            ],
        ),
    }
    return [
        Check(
            name=sheet.title, function=function, sheet=sheet.name, source=f"{source}; {LOOPS}", values=found
        )
        for function, (source, found) in values.items()
    ]


def _shape_checks(by_name: dict[str, Sheet]) -> list[Check]:
    expected = {
        f"criteria-square-{row['acceleration_g']:.0f}g.csv": (row["hic"], 1e-4) for row in PUBLISHED["square"]
    }
    # Of 100 g over 0.01 s: the published factor times 1000. A hundred straight lines for the sine cost 0.08.
    row = PUBLISHED["half_sine"][0]
    expected["criteria-half-sine.csv"] = (1000 * row["factor"], 1000 * row["tolerance"] + 0.1)
    return [
        Check(
            name=by_name[name].title,
            function="head injury criterion",
            sheet=name,
            source=PUBLISHED["source"],
            values=[Value("HIC15", value, tolerance)],
        )
        for name, (value, tolerance) in expected.items()
    ]


def _chest_check(sheet: Sheet) -> Check:
    d, dt = sheet.column("chest deflection [mm]"), sheet.step_s
    scale, depth = VISCOUS
    return Check(
        name=sheet.title,
        function="chest",
        sheet=sheet.name,
        settings=MALE,
        source=f"49 CFR 571.208 S6.4; ECE R94 annex 4 and SAE J1727, from memory; {LOOPS}",
        values=[
            close("deflection", max(d), "mm"),
            close(
                "rate of deflection", max(literal.rate(d, dt, i) for i in range(2, len(d) - 2)) / 1000, "m/s"
            ),
            close("viscous criterion", literal.viscous(d, dt, scale, depth), "m/s"),
        ],
    )


def _neck_check(sheet: Sheet) -> Check:
    found = literal.nij(sheet.column("axial force [N]"), sheet.column("occipital moment [Nm]"), NECK)
    return Check(
        name=sheet.title,
        function="Nij",
        sheet=sheet.name,
        settings=MALE,
        source=f"49 CFR 571.208 S6.6, intercepts from memory; {LOOPS}",
        values=[close(words, found[short]) for short, words in CASES.items()],
    )


def _tension_check(sheet: Sheet) -> Check:
    ratio = literal.exceeded_ratio(sheet.column("axial force [N]"), sheet.step_s, TENSION_LIMIT, LEVELS)
    return Check(
        name=sheet.title,
        function="limit by duration",
        sheet=sheet.name,
        settings={
            "durations_ms": [1000 * duration for duration, _ in TENSION_LIMIT],
            "levels": [level for _, level in TENSION_LIMIT],
        },
        source=f"ECE R94 5.2.1.2 and SAE J1727, from memory; {LOOPS}, which tries {LEVELS} levels",
        values=[Value("largest ratio", float(f"{ratio:.6g}"), float(f"{2 * ratio / LEVELS:.2g}"))],
    )


def _rear_check(sheet: Sheet) -> Check:
    value = literal.nic(sheet.column("lower neck [m/s^2]"), sheet.column("head [m/s^2]"), sheet.step_s)
    return Check(
        name=sheet.title,
        function="NIC",
        sheet=sheet.name,
        source=f"Boström et al. (1996), from memory; {LOOPS}",
        values=[close("NIC", value, "m^2/s^2")],
    )


def _damage_check(sheet: Sheet) -> Check:
    axes = [sheet.column(f"angular acceleration {axis} [rad/s^2]") for axis in "xyz"]
    value = literal.damage(list(zip(*axes, strict=True)), sheet.step_s, 10)
    return Check(
        name=sheet.title,
        function="DAMAGE",
        sheet=sheet.name,
        source=f"Gabler et al. (2019), from memory; {LOOPS}, in steps of 0.01 ms",
        values=[close("DAMAGE", value)],
    )


def _leg_checks(sheet: Sheet) -> list[Check]:
    columns = (sheet.column(f"tibia {name}") for name in ("moment x [Nm]", "moment y [Nm]", "force [N]"))
    index = max(
        math.sqrt(x * x + y * y) / TIBIA[0] + abs(f) / TIBIA[1] for x, y, f in zip(*columns, strict=True)
    )
    return [
        Check(
            name=sheet.title,
            function="femur force",
            sheet=sheet.name,
            source=f"49 CFR 571.208 S6.5; {LOOPS}",
            values=[close("compression", -min(sheet.column("femur force [N]")), "N")],
        ),
        Check(
            name=sheet.title,
            function="tibia index",
            sheet=sheet.name,
            settings=MALE,
            source=f"ECE R94 annex 4, from memory; {LOOPS}",
            values=[close("tibia index", index)],
        ),
    ]


def _rotation_check(sheet: Sheet) -> Check:
    parts = [
        max(abs(rate) for rate in sheet.column(f"rate {axis} [rad/s]")) / critical
        for axis, critical in zip("xyz", RATES, strict=True)
    ]
    return Check(
        name=sheet.title,
        function="brain injury criterion",
        sheet=sheet.name,
        source=f"Takhounts et al., Stapp Car Crash Journal 57 (2013), from memory; {LOOPS}",
        values=[close("BrIC", math.sqrt(sum(part * part for part in parts)))],
    )
