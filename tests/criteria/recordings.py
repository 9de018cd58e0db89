"""Recordings made from curves, under channel codes."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from correlate import Recording, Signal

if TYPE_CHECKING:
    from collections.abc import Mapping

    from numpy.typing import ArrayLike

    from demo_pairs.laboratory import TestRecord

COMPONENT_TESTS = {
    "head-drop": "head drop",
    "neck-flexion": "flexion",
    "neck-extension": "extension",
    "thorax-impact": "thorax",
    "knee-impact": "knee",
}
"""Load cases of the demo that have windows, and a word of the test they belong to."""
STEP_S = 5e-5
HEAD = "D0HEAD0000KMAC"
PROBE = "00PEND000000ACXP"
STERNUM = "D0CHST0003KMDSXP"
MOMENT, SHEAR, AXIAL = "D0NECKUP00KMMOYP", "D0NECKUP00KMFOXP", "D0NECKUP00KMFOZP"
ROTATION = "D0HEAD0000KMANYP"


def recording(
    curves: Mapping[str, tuple[ArrayLike, str]],
    *,
    start_s: float = 0.0,
    velocity: str = "",
    path: str = "run1.csv",
) -> Recording:
    """Return a recording of curves, each with its unit."""
    signals = tuple(
        Signal(samples=samples, start_s=start_s, step_s=STEP_S, unit=unit, channel=code)
        for code, (samples, unit) in curves.items()
    )
    details = {"Velocity test object 1": velocity} if velocity else {}
    return Recording(signals=signals, path=Path(path), format="computed", details=details)


def of_record(test: TestRecord) -> Recording:
    """Return a record of the demo's laboratory as it would be read."""
    signals = tuple(
        Signal(
            samples=channel.samples,
            start_s=test.first_time,
            step_s=test.sampling_step,
            unit=channel.unit,
            channel=channel.code,
        )
        for channel in test.channels
    )
    details = {"Velocity test object 1": f"{test.conditions.impact_speed:.3f}"}
    return Recording(signals=signals, path=Path(test.name), format="computed", details=details)
