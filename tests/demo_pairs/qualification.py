"""The quantities of the published windows, measured on records of the component tests."""

import numpy as np

from demo_pairs.laboratory import TestRecord
from tests.demo_pairs.measuring import STANDARD_GRAVITY, filtered, times, zero_crossing_after

CELL_ABOVE_JOINT = 0.01778
PROBE, HEAD, NECK = "00PEND000000ACXP", "D0HEAD0000KM", "D0NECKUP00KM"


def head_drop(test: TestRecord) -> dict[str, float]:
    """Peaks of 49 CFR 572.32 and the largest value after the main pulse (fall under 2 % of the peak)."""
    axes = [filtered(test, f"{HEAD}AC{axis}P", 1000) / STANDARD_GRAVITY for axis in "XYZ"]
    resultant = np.sqrt(sum(axis**2 for axis in axes))
    peak = int(resultant.argmax())
    over = peak + int(np.flatnonzero(resultant[peak:] < 0.02 * resultant[peak])[0])
    return {
        "head_resultant_peak_g": float(resultant[peak]),
        "head_lateral_peak_g": float(np.abs(axes[1]).max()),
        "oscillation_after_main_pulse_fraction": float(resultant[over:].max() / resultant[peak]),
    }


def neck(test: TestRecord, sense: float) -> dict[str, float]:
    """Rotation, moment and pendulum pulse of 49 CFR 572.33; ``sense`` is -1 in extension."""
    clock = 1e3 * times(test)
    rotation = filtered(test, "D0HEAD0000KMANYP", 60)
    shear = filtered(test, f"{NECK}FOXP", 600)
    moment = sense * (filtered(test, f"{NECK}MOYP", 600) - CELL_ABOVE_JOINT * shear)
    top, most = int(rotation.argmax()), int(moment.argmax())
    pulse = -filtered(test, PROBE, 60) / STANDARD_GRAVITY
    over = int(pulse.argmax()) + int(np.flatnonzero(pulse[pulse.argmax() :] <= 5.0)[0])
    return {
        "impact_velocity_m_per_s": test.conditions.impact_speed,
        "d_plane_rotation_peak_deg": float(rotation[top]),
        "d_plane_rotation_peak_time_ms": float(clock[top]),
        "rotation_decay_to_zero_time_ms": float(clock[zero_crossing_after(rotation, top)]),
        "occipital_moment_peak_Nm": sense * float(moment[most]),
        "occipital_moment_peak_time_ms": float(clock[most]),
        "moment_decay_to_zero_time_ms": float(clock[zero_crossing_after(moment, most)]),
        **{f"pendulum_deceleration_{at}ms_g": float(np.interp(at, clock, pulse)) for at in (10, 20, 30)},
        "pendulum_deceleration_after_30ms_g": float(pulse[clock >= 30.0].max()),
        "pendulum_decay_to_5g_time_ms": float(clock[over]),
    }


def thorax(test: TestRecord) -> dict[str, float]:
    """Force, deflection and internal hysteresis of 49 CFR 572.34; force is probe mass times deceleration."""
    force = -test.conditions.moving_mass * filtered(test, PROBE, 180)
    deflection = -filtered(test, "D0CHST0003KMDSXP", 180)
    top = int(deflection.argmax())
    put_in = float(np.trapezoid(force[:top], deflection[:top]))
    given_back = -float(np.trapezoid(force[top:4200], deflection[top:4200]))
    return {
        "impact_velocity_m_per_s": test.conditions.impact_speed,
        "probe_force_peak_N": float(force.max()),
        "sternum_deflection_peak_mm": float(deflection[top]),
        "internal_hysteresis_fraction": 1.0 - given_back / put_in,
    }


def knee(test: TestRecord) -> dict[str, float]:
    """Force of 49 CFR 572.35."""
    force = -test.conditions.moving_mass * filtered(test, PROBE, 600)
    return {
        "impact_velocity_m_per_s": test.conditions.impact_speed,
        "probe_force_peak_N": float(force.max()),
    }
