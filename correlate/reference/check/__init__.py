"""The data check: one file per examination, all run by :func:`check`."""

from correlate.reference.check.running import (
    ChannelSummary,
    CheckOutcome,
    check,
    load_case_of,
    together,
    with_findings,
)

__all__ = ["ChannelSummary", "CheckOutcome", "check", "load_case_of", "together", "with_findings"]
