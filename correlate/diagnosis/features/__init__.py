"""Features that an engineer reads off a curve, by name."""

from correlate.diagnosis.features.corrections import Features, features
from correlate.diagnosis.features.pulse import CurvePeak

__all__ = ["CurvePeak", "Features", "features"]
