"""The small project with the register of a laboratory: one dummy with a year of results, one without."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

from tests.laboratory.books import REGISTER, WINDOWS, kept, pushed, register_in
from tests.laboratory.test_timeline import DAYS, SCATTER

if TYPE_CHECKING:
    from pathlib import Path

    from correlate import Register

DAY: Final = "2026-01-10"
"""A day soon after the newest result, for the addresses of the page."""
TWO_QUANTITIES: Final = (
    WINDOWS.replace("pelvis_peak_g = [40, 60]", "pelvis_peak_g = [40, 60], pelvis_peak_time_ms = [10, 30]")
    + """
[[quantity]]
name = "pelvis_peak_time_ms"
words = "time of the peak of the pelvis acceleration"
unit = "ms"
measure = "time of peak"
of = "pelvis acceleration"
"""
)


def write_register(folder: Path, text: str = REGISTER) -> Register:
    """Write a register and one push a month of KM-W-002, whose peak rises by 8 g a year."""
    register = register_in(folder, text)
    for at, (day, scatter) in enumerate(zip(DAYS, SCATTER, strict=True)):
        kept(register, pushed(48 + 8 * at / 12 + scatter, day=day, name=f"P{at}"), windows=TWO_QUANTITIES)
    return register
