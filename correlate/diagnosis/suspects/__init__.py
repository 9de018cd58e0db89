"""Data-handling errors that look like poor models: detection, evidence and cost."""

from correlate.diagnosis.suspects.case import KINDS, Kind, Suspect
from correlate.diagnosis.suspects.channels import FrameRotation, frame_rotation
from correlate.diagnosis.suspects.searching import sensor_suspects, suspects

__all__ = ["KINDS", "FrameRotation", "Kind", "Suspect", "frame_rotation", "sensor_suspects", "suspects"]
