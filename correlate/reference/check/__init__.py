"""The data check: one file per examination, all run by :func:`check`."""

from correlate.reference.check.grouping import load_case_of
from correlate.reference.check.reading import read_tests
from correlate.reference.check.running import ChannelSummary, CheckOutcome, check, together, with_findings

__all__ = [
    "ChannelSummary",
    "CheckOutcome",
    "check",
    "load_case_of",
    "read_tests",
    "together",
    "with_findings",
]
