"""Data-handling errors that look like poor models: detection, evidence and cost."""

from correlate.diagnosis.suspects.frame import FrameRotation, frame_rotation
from correlate.diagnosis.suspects.searching import suspects
from correlate.diagnosis.suspects.sensor import sensor_suspects
from correlate.diagnosis.suspects.suspect import KINDS, Kind, Suspect

__all__ = ["KINDS", "FrameRotation", "Kind", "Suspect", "frame_rotation", "sensor_suspects", "suspects"]
