"""Hints at the behaviour behind the differences of a model."""

from correlate.diagnosis.hints.evidence import EvidenceChannel, Role
from correlate.diagnosis.hints.hinting import Hint, hints

__all__ = ["EvidenceChannel", "Hint", "Role", "hints"]
