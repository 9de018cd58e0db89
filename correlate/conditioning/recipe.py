"""How a reference and a candidate are conditioned before they are compared."""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import Final

from correlate.conditioning.cfc import frequency_class
from correlate.conditioning.interval import check_interval
from correlate.display import short_repr
from correlate.errors import SettingsError
from correlate.units import parse_unit

DEFAULT_STEP_S: Final = 1e-4
"""Grid on which two curves are compared, s (ISO/TS 18571: 10 kHz)."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Treatment:
    """What is done to one signal.

    Attributes
    ----------
    unit
        Unit to convert to.
    sign
        1, or −1 to turn the sign.
    offset_window_s
        Window over which the offset is measured, on the time axis as recorded, s; None leaves the offset.
    shift_s
        Added to every time, s.
    cfc
        Channel frequency class, or None for no filter.
    step_s
        Time step of the grid, s.
    """

    unit: str
    sign: int
    offset_window_s: tuple[float, float] | None
    shift_s: float
    cfc: int | None
    step_s: float


@short_repr
@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe:
    """How two signals are brought onto one grid.

    What makes two curves comparable (unit, filter, grid, interval) is set once for both. What belongs to one
    recording (polarity, offset, time shift) is set for each: a test has an offset before its trigger, a
    model usually starts at the impact and has none.

    Attributes
    ----------
    cfc
        Channel frequency class of both, or None for no filter.
    start_s, end_s
        Interval of the comparison, s, after the time shifts; None: as far as both reach.
    step_s
        Time step of the grid, s; its times are whole multiples of it.
    unit
        Unit of the comparison; None: that of the reference.
    reference_offset_window_s, candidate_offset_window_s
        Windows over which the offsets are measured, on the time axis as recorded, s; None leaves the offset.
    reference_sign, candidate_sign
        1, or −1 to turn the sign.
    reference_shift_s, candidate_shift_s
        Added to every time, s.

    Raises
    ------
    SettingsError
        A setting is outside what it may be.
    UnitError
        The unit cannot be parsed.

    Examples
    --------
    >>> Recipe(cfc=180, start_s=0.0, end_s=0.06, candidate_sign=-1).step_s
    0.0001
    """

    cfc: int | None = None
    start_s: float | None = None
    end_s: float | None = None
    step_s: float = DEFAULT_STEP_S
    unit: str | None = None
    reference_offset_window_s: tuple[float, float] | None = None
    candidate_offset_window_s: tuple[float, float] | None = None
    reference_sign: int = 1
    candidate_sign: int = 1
    reference_shift_s: float = 0.0
    candidate_shift_s: float = 0.0

    def __post_init__(self) -> None:
        """Refuse settings that no pair of signals could be conditioned with."""
        if self.cfc is not None:
            frequency_class(self.cfc)
        if self.unit is not None:
            parse_unit(self.unit)
        if not (math.isfinite(self.step_s) and self.step_s > 0):
            raise SettingsError(f"step_s is {self.step_s!r}", remedy="give a number of seconds above zero")
        self._check_interval()
        self._check_side(
            "reference", self.reference_offset_window_s, self.reference_sign, self.reference_shift_s
        )
        self._check_side(
            "candidate", self.candidate_offset_window_s, self.candidate_sign, self.candidate_shift_s
        )

    def for_reference(self, unit: str) -> Treatment:
        """Return what is done to the reference.

        Parameters
        ----------
        unit
            Unit of the comparison where the recipe leaves it open.

        Returns
        -------
        Treatment
        """
        return Treatment(
            unit=self.unit or unit,
            sign=self.reference_sign,
            offset_window_s=self.reference_offset_window_s,
            shift_s=self.reference_shift_s,
            cfc=self.cfc,
            step_s=self.step_s,
        )

    def for_candidate(self, unit: str) -> Treatment:
        """Return what is done to the candidate.

        Parameters
        ----------
        unit
            Unit of the comparison where the recipe leaves it open.

        Returns
        -------
        Treatment
        """
        return Treatment(
            unit=self.unit or unit,
            sign=self.candidate_sign,
            offset_window_s=self.candidate_offset_window_s,
            shift_s=self.candidate_shift_s,
            cfc=self.cfc,
            step_s=self.step_s,
        )

    def _check_interval(self) -> None:
        for name, value in (("start_s", self.start_s), ("end_s", self.end_s)):
            if value is not None and not math.isfinite(value):
                raise SettingsError(f"{name} is {value}", remedy="give a finite number of seconds")
        if self.start_s is not None and self.end_s is not None:
            check_interval(self.start_s, self.end_s)

    @staticmethod
    def _check_side(side: str, window: tuple[float, float] | None, sign: int, shift_s: float) -> None:
        if window is not None:
            if len(window) != 2:
                raise SettingsError(
                    f"{side}_offset_window_s has {len(window)} numbers",
                    remedy="give its start and its end, in s",
                )
            check_interval(*window)
        if sign not in {1, -1}:
            raise SettingsError(f"{side}_sign is {sign!r}", remedy="give 1, or -1 to turn the sign")
        if not math.isfinite(shift_s):
            raise SettingsError(f"{side}_shift_s is {shift_s}", remedy="give a finite number of seconds")
