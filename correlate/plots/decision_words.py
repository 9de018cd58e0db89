"""Headings of the objections to a release, the same on pages and in reports."""

from __future__ import annotations

from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from correlate.campaign.decision import ObjectionKind

OBJECTION_WORDS: Final[dict[ObjectionKind, str]] = {
    "evidence": "Ratings that are stale or missing",
    "data": "Findings in the tests",
    "limit": "Limits not met",
    "poor": "Poor channels",
    "held out": "Held out of tuning: independent evidence",
}
"""Heading of each kind of objection; one of several kinds is under the first."""
