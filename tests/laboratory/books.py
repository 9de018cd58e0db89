"""A register and recordings to try it on."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from correlate import Recording, Signal, qualify, read_register, window_book
from correlate.laboratory import TestConditions, keep_qualification
from correlate.signal import Source

if TYPE_CHECKING:
    from collections.abc import Mapping

    from correlate.laboratory import Kept, Register

REGISTER = """\
laboratory = "Kelpwick Impact Laboratory"

[[dummy]]
serial = "KM-W-002"
type = "KELP-M"
build_level = "B"
assemblies = ["KM-T-004"]
exchange = [
  {date = 2025-06-01, part = "rib set", reason = "worn", who = "lab", tests = ["pelvis"]},
]
use = [{date = 2025-07-01, tests = 8}]

[[dummy]]
serial = "KM-W-003"
type = "KELP-M"

[[sensor]]
serial = "AC-101"
channel = "??PELV??????ACZ?"
unit = "g"
range = 100
sensitivity_unit = "mV/V/g"
calibration = [
  {date = 2024-01-10, due = 2025-01-10, sensitivity = 2.0},
  {date = 2025-01-20, due = 2026-01-20, sensitivity = 2.1},
]

[[interval]]
test = "pelvis push"
months = 12
tests = 10
"""
WINDOWS = """\
[[window]]
device = "KELP-M"
test = "pelvis push"
source = "house rule 12"
checked = true
limits = { pelvis_peak_g = [40, 60] }

[[signal]]
name = "pelvis acceleration"
unit = "g"
[[signal.way]]
make = "as recorded"
channels = ["??PELV??????ACZ?"]

[[quantity]]
name = "pelvis_peak_g"
words = "peak of the pelvis acceleration"
unit = "g"
measure = "peak"
of = "pelvis acceleration"
"""
PELVIS = "D0PELV0000KMACZP"


def register_in(folder: Path, text: str = REGISTER) -> Register:
    """Write the register of a laboratory and read it."""
    file = folder / "laboratory.toml"
    file.write_text(text, encoding="utf-8")
    return read_register(file)


def pushed(
    peak_g: float,
    *,
    day: str = "2025-03-01",
    dummy: str = "KELP-M KM-W-002",
    header: Mapping[str, str] | None = None,
    name: str = "P1",
) -> Recording:
    """Return a recording of a push on the pelvis: a half-sine of 40 ms after 10 ms of rest."""
    time_s = np.arange(-200, 2000) * 5e-5
    samples = peak_g * np.sin(np.pi * np.clip(time_s / 0.04, 0, 1))
    signal = Signal(
        samples=samples,
        start_s=float(time_s[0]),
        step_s=5e-5,
        unit="g",
        channel=PELVIS,
        source=Source(f"{name}.001", f"{name}-{peak_g}"),
    )
    details = {"Date of the test": day, "Name of test object 1": dummy}
    return Recording(
        signals=(signal,),
        path=Path("lab") / name,
        format="computed",
        details={key: value for key, value in details.items() if value},
        channel_headers={PELVIS: dict(header or {})},
    )


def kept(register: Register, recording: Recording, *, windows: str = WINDOWS, dummy: str = "") -> Kept:
    """Qualify a recording and keep the result."""
    file = register.path.with_name("windows.toml")
    file.write_text(windows, encoding="utf-8")
    book = window_book([file])
    found = qualify(recording, book.find(device="KELP-M", test="pelvis"), book)
    return keep_qualification(register, found, recording, TestConditions(dummy=dummy))
