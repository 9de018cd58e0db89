"""Physical hints: which material behaviour may cause a difference. Never a finding."""

from correlate.diagnosis.hints.hinting import Hint, hints
from correlate.diagnosis.hints.rules import GROUPS, Group

__all__ = ["GROUPS", "Group", "Hint", "hints"]
