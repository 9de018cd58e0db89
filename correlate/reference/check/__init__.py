"""The data check: one file per examination, all run by :func:`check`."""

from correlate.reference.check.outcome import ChannelSummary, CheckOutcome
from correlate.reference.check.running import check, load_case_of

__all__ = ["ChannelSummary", "CheckOutcome", "check", "load_case_of"]
