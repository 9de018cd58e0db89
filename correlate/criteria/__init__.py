"""Injury criteria and qualification windows."""

from correlate.criteria.brain import damage
from correlate.criteria.channels import ChannelName, Preparation, with_codes
from correlate.criteria.chest import chest_deflection, chest_deflection_rate, viscous_criterion
from correlate.criteria.clips import contiguous_clip, cumulative_clip
from correlate.criteria.comparison import CriterionComparison, compare_criterion
from correlate.criteria.curve_measures import largest, largest_sum, peak
from correlate.criteria.devices import Device, Limit, devices, find_device
from correlate.criteria.exceedance import (
    DurationLimit,
    ExceedanceCurve,
    ExceedanceResult,
    exceedance,
    exceedance_curve,
)
from correlate.criteria.head import bric, hic, severity_index
from correlate.criteria.leg import femur_force, tibia_index
from correlate.criteria.neck import ADULT_MALE_NECK, NeckIntercepts, NijResult, nic, nij
from correlate.criteria.qualification import Qualification, QuantityVerdict, qualify
from correlate.criteria.recorded import (
    RecordedCriteria,
    RecordedCriterion,
    compare_recorded,
    recorded_criteria,
)
from correlate.criteria.result import CAUTION, CriterionResult
from correlate.criteria.table import CRITERIA, Criterion
from correlate.criteria.windows import Quantity, Window, WindowBook, window_book

__all__ = [
    "ADULT_MALE_NECK",
    "CAUTION",
    "CRITERIA",
    "ChannelName",
    "Criterion",
    "CriterionComparison",
    "CriterionResult",
    "Device",
    "DurationLimit",
    "ExceedanceCurve",
    "ExceedanceResult",
    "Limit",
    "NeckIntercepts",
    "NijResult",
    "Preparation",
    "Qualification",
    "Quantity",
    "QuantityVerdict",
    "RecordedCriteria",
    "RecordedCriterion",
    "Window",
    "WindowBook",
    "bric",
    "chest_deflection",
    "chest_deflection_rate",
    "compare_criterion",
    "compare_recorded",
    "contiguous_clip",
    "cumulative_clip",
    "damage",
    "devices",
    "exceedance",
    "exceedance_curve",
    "femur_force",
    "find_device",
    "hic",
    "largest",
    "largest_sum",
    "nic",
    "nij",
    "peak",
    "qualify",
    "recorded_criteria",
    "severity_index",
    "tibia_index",
    "viscous_criterion",
    "window_book",
    "with_codes",
]
