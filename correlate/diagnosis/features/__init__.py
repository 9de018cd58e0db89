"""Features that an engineer reads off a curve, by name."""

from correlate.diagnosis.features.gathering import Features, features
from correlate.diagnosis.features.peaks import CurvePeak

__all__ = ["CurvePeak", "Features", "features"]
