"""The audit trail on its page, and as a file."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

from flask import Response

from dashboard.accounts.trail_file import export_line
from dashboard.proxies import proxy_warnings
from dashboard.signing_in.pages import shown

if TYPE_CHECKING:
    from dashboard.accounts import AuditTrail

_LINES: Final = 200
"""Shown on the page."""

_CHECKED: Final = 20_000
"""Whose hashes are checked whenever the page is shown; less than a second."""


@dataclass(frozen=True, slots=True)
class TrailPage:
    """The routes.

    Attributes
    ----------
    trail
        Of the server.
    """

    trail: AuditTrail

    def show(self) -> str:
        """Show the end of the audit trail, and whether it is unbroken."""
        self.trail.settle()
        state = self.trail.check(most=_CHECKED)
        return shown(
            "audit",
            "Audit trail",
            entries=self.trail.last(_LINES)[::-1],
            counted=self.trail.counted(),
            state=state,
            is_part=state.first > 1,
            warnings=proxy_warnings(),
        )

    def export(self) -> Any:
        """Return every line of the audit trail, as the command writes it."""
        self.trail.settle()
        lines = (export_line(row) for row in self.trail.rows())
        answer = Response(lines, mimetype="application/jsonl")
        answer.headers["Content-Disposition"] = "attachment; filename=audit-trail.jsonl"
        answer.headers["Cache-Control"] = "no-store"
        return answer
