"""Physical hints: which material behaviour may lie behind a difference. Never a fact."""

from correlate.diagnosis.hints.hinting import Hint, hints
from correlate.diagnosis.hints.rules import GROUPS, Group

__all__ = ["GROUPS", "Group", "Hint", "hints"]
