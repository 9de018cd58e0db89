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
FOOT = 0.3048
LBF_FOOT = LBF * FOOT
ARM_M = 0.01778
"""Load cell to occipital condyle: 49 CFR 572.123(b)(1)(iii)."""
CONVERTED = (
    "pounds, feet and inches of the published text converted here; tolerance: the rounding of the result"
)
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

    def pulse_of_the_pendulum(t: float) -> float:
        rise, fall = min(max(t, 0.0) / 0.004, 1.0), min(max((0.037 - t) / 0.012, 0.0), 1.0)
        height = 24.5 - 200 * max(t - 0.006, 0.0)
        return -G * (height * rise * fall * (1 if sense > 0 else 0.8) + 0.3 * ringing(t, 0.001, 120.0, 0.006))

    columns = {
        f"{PROBE} [m/s^2]": (pulse_of_the_pendulum, 1.2),
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
        _check(head, "head drop", "49 CFR 572.32", _head_values(head)),
        _check(
            thorax, "thorax pendulum impact, 6.71 m/s", f"49 CFR 572.34, {CONVERTED}", _thorax_values(thorax)
        ),
        _check(knee, "knee impact", f"49 CFR 572.35, {CONVERTED}", _knee_values(knee)),
        _check(flexion, "flexion", f"49 CFR 572.33, {CONVERTED}", _flexion_values(flexion)),
        _check(extension, "extension", f"49 CFR 572.33, {CONVERTED}", _extension_values(extension)),
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


def _about(centre: float, half: float, unit: float) -> tuple[float, float]:
    """Return a window that the text gives by its centre and a half width in another unit."""
    return (centre - half) * unit, (centre + half) * unit


def _velocity(value: float, centre_ft_per_s: float, half_ft_per_s: float) -> list[Value]:
    low, high = _about(centre_ft_per_s, half_ft_per_s, FOOT)
    return _quantity("impact_velocity_m_per_s", value, low, high, "m/s", rounding=0.005)


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
    return [
        *_velocity(6.71, 22.0, 0.4),
        *_quantity("probe_force_peak_N", max(force), *_about(1242.5, 82.5, LBF), "N", rounding=0.5),
        *_quantity("sternum_deflection_peak_mm", max(path), *_about(2.68, 0.18, INCH), "mm", rounding=0.06),
        *_quantity("internal_hysteresis_fraction", literal.hysteresis(force, path), 0.69, 0.85, "1"),
    ]


def _knee_values(sheet: Sheet) -> list[Value]:
    probe, _ = _course(sheet, f"{PROBE} [m/s^2]", 600, 0.040)
    force = max(-5.0 * a for a in probe)
    return [
        *_velocity(2.14, 6.9, 0.1),
        *_quantity("probe_force_peak_N", force, 1060 * LBF, 1300 * LBF, "N", rounding=0.5),
    ]


def _neck_courses(sheet: Sheet) -> tuple[list[float], list[float], list[float]]:
    rotation, moments = _course(sheet, f"{ROTATION} [deg]", 60, 0.250)
    moment, _ = _course(sheet, f"{MOMENT} [Nm]", 600, 0.250)
    shear, _ = _course(sheet, f"{SHEAR} [N]", 600, 0.250)
    return rotation, [m - ARM_M * f for m, f in zip(moment, shear, strict=True)], moments


def _flexion_values(sheet: Sheet) -> list[Value]:
    rotation, moment, moments = _neck_courses(sheet)
    return [
        *_velocity(7.0, 23.0, 0.4),
        *_swing("d_plane_rotation", rotation, moments, "deg", ((64, 78), (57, 64))),
        *_decay("rotation", rotation, moments, (113, 128)),
        *_moment(moment, moments, (65, 80), (47, 58)),
        *_decay("moment", moment, moments, (97, 107)),
        *_pendulum(sheet, ((22.5, 27.5), (17.6, 22.6), (12.5, 18.5)), 29, (34, 42)),
    ]


def _extension_values(sheet: Sheet) -> list[Value]:
    rotation, moment, moments = _neck_courses(sheet)
    backward, turned = [-x for x in rotation], [-x for x in moment]
    return [
        *_velocity(6.08, 19.9, 0.4),
        *_swing("d_plane_rotation", backward, moments, "deg", ((81, 106), (72, 82))),
        *_decay("rotation", backward, moments, (147, 174)),
        *_moment(turned, moments, (39, 59), (65, 79), sign=-1),
        *_decay("moment", turned, moments, (120, 148)),
        *_pendulum(sheet, ((17.2, 21.2), (14.0, 19.0), (11.0, 16.0)), 22, (38, 46)),
    ]


def _pendulum(
    sheet: Sheet,
    windows: tuple[tuple[float, float], ...],
    most_g: float,
    decay_ms: tuple[float, float],
) -> list[Value]:
    """Return the pulse of the pendulum at 10, 20 and 30 ms, its largest value later, and its decay to 5 g."""
    samples, moments = _course(sheet, f"{PROBE} [m/s^2]", 60, 0.250)
    pulse_g = [-a / G for a in samples]
    at = {ms: pulse_g[moments.index(ms / 1000)] for ms in (10, 20, 30)}
    later = max(a for a, t in zip(pulse_g, moments, strict=True) if t >= 0.030)
    end = 1000 * literal.decay(pulse_g, moments, 5.0)
    found = []
    for (ms, value), (low, high) in zip(at.items(), windows, strict=True):
        found += _quantity(f"pendulum_deceleration_{ms}ms_g", value, low, high, "g")
    found += _quantity("pendulum_deceleration_after_30ms_g", later, 0, most_g, "g")
    return [*found, *_quantity("pendulum_decay_to_5g_time_ms", end, *decay_ms, "ms")]


def _moment(
    samples: list[float],
    moments: list[float],
    pound_feet: tuple[float, float],
    times_ms: tuple[float, float],
    *,
    sign: int = 1,
) -> list[Value]:
    """Return peak and time of the moment; of a negative one, samples and window are turned."""
    value, at = literal.highest(samples, moments)
    low, high = sorted(sign * limit * LBF_FOOT for limit in pound_feet)
    return [
        *_quantity("occipital_moment_peak_Nm", sign * value, low, high, "Nm", rounding=0.05),
        *_quantity("occipital_moment_peak_time_ms", 1000 * at, *times_ms, "ms"),
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
