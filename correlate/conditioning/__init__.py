"""Conditioning: pure functions that take a signal and return a new one with one more step in its history."""

from correlate.conditioning.align import (
    AlignedSignals,
    align,
    align_signals,
    condition,
    cut_pair,
    pair_conditioned,
)
from correlate.conditioning.calculus import derivative, integral
from correlate.conditioning.cfc import FREQUENCY_CLASSES, cfc_amplitude, cfc_coefficients, filter_cfc
from correlate.conditioning.crop import crop
from correlate.conditioning.mean import mean_signal
from correlate.conditioning.occipital_moment import occipital_moment
from correlate.conditioning.offset import remove_offset
from correlate.conditioning.recipe import Recipe
from correlate.conditioning.resample import resample
from correlate.conditioning.resultant import resultant
from correlate.conditioning.sign import turn_sign
from correlate.conditioning.time_base import signal_on_constant_step
from correlate.conditioning.time_zero import shift_time, zero_at_threshold

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
