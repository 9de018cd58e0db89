"""Qualification windows: component tests whose quantities come from the literal loops."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

from tests.oracles import qualification_literal as literal
from tests.selfcheck.make_kit.sheets import (
    LOOPS,
    Check,
    Sheet,
    Value,
    close,
    pulse,
    ringing,
    times,
    written,
)

if TYPE_CHECKING:
    from collections.abc import Callable, Mapping

MALE = "adult male, 50th percentile"
G = 9.80665
LBF = 4.4482216152605
INCH = 25.4
ARM_M = 0.01778
"""Load cell to occipital condyle: 49 CFR 572.123(b)(1)(iii)."""
VELOCITY = "Velocity test object 1"

HEAD = {axis: f"D0HEAD0000KMAC{axis}P" for axis in "XYZ"}
PROBE, STERNUM = "00PEND000000ACXP", "D0CHST0003KMDSXP"
ROTATION, MOMENT, SHEAR = "D0HEAD0000KMANYP", "D0NECKUP00KMMOYP", "D0NECKUP00KMFOXP"


def sheets() -> list[Sheet]:
    """Return a component test a sheet; every channel has an offset and noise-free rest before contact."""
    return [_head(), _thorax(), _knee(), _neck("flexion", 1.0), _neck("extension", -1.0)]


def _sheet(
    name: str,
    last_ms: float,
    step_ms: float,
    columns: Mapping[str, tuple[Callable[[float], float], float]],
    velocity: str = "",
) -> Sheet:
    """Return a sheet from 20 ms before contact; each column has an offset."""
    moments = times(-20.0, last_ms, step_ms)
    seconds = [float(text) / 1000 for text in moments]
    return Sheet(
        name=f"windows-{name}.csv",
        title=name.replace("-", " "),
        times_ms=moments,
        columns={
            heading: written([offset + curve(t) for t in seconds], 4)
            for heading, (curve, offset) in columns.items()
        },
        details={VELOCITY: velocity} if velocity else {},
    )


def _head() -> Sheet:
    def along(share: float, ring: float) -> Callable[[float], float]:
        return lambda t: (
            G * (share * 256 * pulse(t, 0.0005, 0.0024) + ring * ringing(t, 0.0032, 900.0, 0.002))
        )

    columns = {
        f"{HEAD['X']} [m/s^2]": (along(0.72, 9.0), 3.1),
        f"{HEAD['Y']} [m/s^2]": (along(0.03, 1.0), -1.7),
        f"{HEAD['Z']} [m/s^2]": (along(0.70, -6.0), 2.2),
    }
    return _sheet("head-drop", 30.0, 0.05, columns)


def _thorax() -> Sheet:
    def deceleration(t: float) -> float:
        height = math.sqrt(pulse(t, 0.0, 0.052)) if t <= 0.026 else math.sqrt(pulse(t, 0.008, 0.036)) ** 3
        force = 5300 * height
        return -force / 23.4 - 4 * ringing(t, 0.004, 170.0, 0.004)

    columns = {
        f"{PROBE} [m/s^2]": (deceleration, 1.9),
        f"{STERNUM} [mm]": (lambda t: -67.2 * pulse(t, -0.004, 0.064) if t >= 0 else 0.0, 0.4),
    }
    return _sheet("thorax", 100.0, 0.1, columns, velocity="6.710")


def _knee() -> Sheet:
    columns = {
        f"{PROBE} [m/s^2]": (
            lambda t: -1050 * pulse(t, 0.0002, 0.0046) - 30 * ringing(t, 0.001, 800.0, 0.001),
            2.5,
        )
    }
    return _sheet("knee", 40.0, 0.1, columns, velocity="2.140")


def _neck(name: str, sense: float) -> Sheet:
    def swing(height: float, start: float, length: float, decay: float) -> Callable[[float], float]:
        def curve(t: float) -> float:
            if t < start:
                return 0.0
            return height * math.sin(math.pi * (t - start) / length) * math.exp(-(t - start) / decay)

        return curve

    columns = {
        f"{ROTATION} [deg]": (swing(sense * 105, 0.004, 0.118, 0.15), 0.6),
        f"{MOMENT} [Nm]": (swing(sense * 118, 0.006, 0.098, 0.25), -0.8),
        f"{SHEAR} [N]": (swing(sense * -620, 0.008, 0.094, 0.20), 5.0),
    }
    return _sheet(f"neck-{name}", 250.0, 0.1, columns, velocity="7.000" if sense > 0 else "6.080")


def _quantity(
    name: str, value: float, low: float, high: float, unit: str, *, rounding: float = 0.0
) -> list[Value]:
    """Return a quantity, its window, and by how much it is outside."""
    outside = min(value - low, 0.0) + max(value - high, 0.0)
    found = close(name, value, unit)
    return [
        found,
        Value(f"{name}, low", low, rounding, unit),
        Value(f"{name}, high", high, rounding, unit),
        Value(f"{name}, outside by", float(f"{outside:.12g}"), rounding + found.tolerance, unit),
    ]


def checks(made: list[Sheet]) -> list[Check]:
    """Return the quantities of every sheet."""
    head, thorax, knee, flexion, extension = made
    return [
        _check(head, "head drop", "49 CFR 572.32, compared with the published text", _head_values(head)),
        _check(
            thorax,
            "thorax pendulum impact, 6.71 m/s",
            "49 CFR 572.34, compared with the published text (lbf, in); its tolerance is that rounding",
            _thorax_values(thorax),
        ),
        _check(knee, "knee impact", "49 CFR 572.35, compared with the published text", _knee_values(knee)),
        _check(
            flexion, "flexion", "49 CFR 572.33, compared with the published text", _flexion_values(flexion)
        ),
        _check(
            extension,
            "extension",
            "49 CFR 572.33, compared with the published text",
            _extension_values(extension),
        ),
    ]


def _check(sheet: Sheet, test: str, source: str, values: list[Value]) -> Check:
    return Check(
        name=sheet.title,
        function="qualification windows",
        sheet=sheet.name,
        settings={"device": MALE, "test": test},
        source=f"{source}; {LOOPS}",
        values=values,
    )


def _course(sheet: Sheet, heading: str, cfc: int, last_s: float) -> tuple[list[float], list[float]]:
    """Return a channel, filtered and cut to the interval of its test, and the times."""
    full = literal.prepared(sheet.column(heading), sheet.times_s, cfc)
    return literal.cut(full, sheet.times_s, -0.005, last_s)


def _head_values(sheet: Sheet) -> list[Value]:
    axes = {axis: _course(sheet, f"{code} [m/s^2]", 1000, 0.030)[0] for axis, code in HEAD.items()}
    total = [math.sqrt(x * x + y * y + z * z) / G for x, y, z in zip(*axes.values(), strict=True)]
    lateral = [abs(y) / G for y in axes["Y"]]
    return [
        *_quantity("head_resultant_peak_g", max(total), 225, 275, "g"),
        *_quantity("head_lateral_peak_g", max(lateral), 0, 15, "g"),
        *_quantity("oscillation_after_main_pulse_fraction", literal.oscillation(total), 0.0, 0.10, "1"),
    ]


def _thorax_values(sheet: Sheet) -> list[Value]:
    probe, _ = _course(sheet, f"{PROBE} [m/s^2]", 180, 0.100)
    turned, _ = _course(sheet, f"{STERNUM} [mm]", 180, 0.100)
    force, path = [-23.4 * a for a in probe], [-d for d in turned]
    # The file gives whole newtons and tenths of a millimetre.
    newtons = [(1242.5 + side * 82.5) * LBF for side in (-1, 1)]
    millimetres = [(2.68 + side * 0.18) * INCH for side in (-1, 1)]
    return [
        *_quantity("impact_velocity_m_per_s", 6.71, 6.58, 6.83, "m/s"),
        *_quantity("probe_force_peak_N", max(force), newtons[0], newtons[1], "N", rounding=0.5),
        *_quantity(
            "sternum_deflection_peak_mm", max(path), millimetres[0], millimetres[1], "mm", rounding=0.06
        ),
        *_quantity("internal_hysteresis_fraction", literal.hysteresis(force, path), 0.69, 0.85, "1"),
    ]


def _knee_values(sheet: Sheet) -> list[Value]:
    probe, _ = _course(sheet, f"{PROBE} [m/s^2]", 600, 0.040)
    newtons = [pounds * LBF for pounds in (1060, 1300)]
    return [
        *_quantity("impact_velocity_m_per_s", 2.14, 2.07, 2.13, "m/s"),
        *_quantity(
            "probe_force_peak_N", max(-5.0 * a for a in probe), newtons[0], newtons[1], "N", rounding=0.5
        ),
    ]


def _neck_courses(sheet: Sheet) -> tuple[list[float], list[float], list[float]]:
    rotation, moments = _course(sheet, f"{ROTATION} [deg]", 60, 0.250)
    moment, _ = _course(sheet, f"{MOMENT} [Nm]", 600, 0.250)
    shear, _ = _course(sheet, f"{SHEAR} [N]", 600, 0.250)
    return rotation, [m - ARM_M * f for m, f in zip(moment, shear, strict=True)], moments


def _flexion_values(sheet: Sheet) -> list[Value]:
    rotation, moment, moments = _neck_courses(sheet)
    return [
        *_quantity("impact_velocity_m_per_s", 7.0, 6.89, 7.13, "m/s"),
        *_swing("d_plane_rotation", rotation, moments, "deg", ((64, 78), (57, 64))),
        *_decay("rotation", rotation, moments, (113, 128)),
        *_swing("occipital_moment", moment, moments, "Nm", ((88.1, 108.5), (47, 58))),
        *_decay("moment", moment, moments, (97, 107)),
    ]


def _extension_values(sheet: Sheet) -> list[Value]:
    rotation, moment, moments = _neck_courses(sheet)
    backward, turned = [-x for x in rotation], [-x for x in moment]
    value, at = literal.highest(turned, moments)
    return [
        *_quantity("impact_velocity_m_per_s", 6.08, 5.94, 6.19, "m/s"),
        *_swing("d_plane_rotation", backward, moments, "deg", ((81, 106), (72, 82))),
        *_decay("rotation", backward, moments, (147, 174)),
        *_quantity("occipital_moment_peak_Nm", -value, -80.0, -52.9, "Nm"),
        *_quantity("occipital_moment_peak_time_ms", 1000 * at, 65, 79, "ms"),
        *_decay("moment", turned, moments, (120, 148)),
    ]


def _swing(
    name: str,
    samples: list[float],
    moments: list[float],
    unit: str,
    windows: tuple[tuple[float, float], tuple[float, float]],
) -> list[Value]:
    value, at = literal.highest(samples, moments)
    return [
        *_quantity(f"{name}_peak_{unit}", value, *windows[0], unit),
        *_quantity(f"{name}_peak_time_ms", 1000 * at, *windows[1], "ms"),
    ]


def _decay(name: str, samples: list[float], moments: list[float], window: tuple[float, float]) -> list[Value]:
    at = literal.decay(samples, moments, 0.0)
    return _quantity(f"{name}_decay_to_zero_time_ms", 1000 * at, *window, "ms")
