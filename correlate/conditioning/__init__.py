"""Conditioning: pure functions that take a signal and return a new one with one more step in its history."""

from correlate.conditioning.align import (
    AlignedSignals,
    Recipe,
    align,
    align_signals,
    condition,
    cut_pair,
    pair_conditioned,
    turn_sign,
)
from correlate.conditioning.derived import derivative, integral, mean_signal, occipital_moment, resultant
from correlate.conditioning.filters import FREQUENCY_CLASSES, cfc_amplitude, cfc_coefficients, filter_cfc
from correlate.conditioning.offset import remove_offset
from correlate.conditioning.resampling import resample, signal_on_constant_step
from correlate.conditioning.time_axis import crop, shift_time, zero_at_threshold

__all__ = [
    "FREQUENCY_CLASSES",
    "AlignedSignals",
    "Recipe",
    "align",
    "align_signals",
    "cfc_amplitude",
    "cfc_coefficients",
    "condition",
    "crop",
    "cut_pair",
    "derivative",
    "filter_cfc",
    "integral",
    "mean_signal",
    "occipital_moment",
    "pair_conditioned",
    "remove_offset",
    "resample",
    "resultant",
    "shift_time",
    "signal_on_constant_step",
    "turn_sign",
    "zero_at_threshold",
]
